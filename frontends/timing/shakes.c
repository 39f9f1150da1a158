#include "shakes.h"

#include <errno.h>
#include <string.h>

static void sight(hy_sighting *s, int64_t ps)
{
    s->first = s->count == 0 ? ps : s->first;
    s->count++;
}

/* ---- the file ---- */

static int put(hy_shakes *s)
{
    if (s->has_before && fwrite(&s->before, sizeof s->before, 1, s->file) != 1) {
        return hy_fail(s->diag, "cannot write a temporary file: %s", strerror(errno));
    }
    s->has_before = 0;
    return 0;
}

/* The handshake under way is over, but may yet be told of its request (request_rises). */
static int close_open(hy_shakes *s)
{
    if (put(s) != 0) {
        return -1;
    }
    s->before = s->open;
    s->has_before = 1;
    s->is_open = 0;
    s->count++;
    return 0;
}

int hy_shakes_start(hy_shakes *s, int64_t skew, hy_diag *diag)
{
    *s = (hy_shakes){.diag = diag, .skew = skew, .fell = -1, .code_changed = -1, .code_last = -1};
    s->file = tmpfile();
    return s->file != NULL ? 0 : hy_fail(diag, "cannot make a temporary file: %s", strerror(errno));
}

void hy_shakes_free(hy_shakes *s)
{
    if (s->file != NULL) {
        fclose(s->file);
        s->file = NULL;
    }
}

int hy_shakes_rewind(hy_shakes *s)
{
    if (fflush(s->file) != 0) {
        return hy_fail(s->diag, "cannot write a temporary file: %s", strerror(errno));
    }
    rewind(s->file);
    return 0;
}

int hy_shakes_next(hy_shakes *s, hy_shake *shake)
{
    if (fread(shake, sizeof *shake, 1, s->file) == 1) {
        return 1;
    }
    return ferror(s->file) ? hy_fail(s->diag, "cannot read a temporary file: %s", strerror(errno)) : 0;
}

/* ---- edges ---- */

/* A host that answers at once may be shown a little ahead of the request that it answers. */
static void request_rises(hy_shakes *s, const hy_bus_step *step)
{
    if (s->is_open && (s->open.flags & HY_SHAKE_HIGH) == 0 && step->ps - s->open.strobe <= s->skew && s->has_before &&
        s->before.rise < 0) {
        s->before.rise = s->open.strobe;
        s->before.rise_at = s->open.strobe_at;
        s->open.flags |= HY_SHAKE_HIGH;
        return;
    }
    if (s->is_open && s->open.rise < 0) {
        s->open.rise = step->ps;
        s->open.rise_at = step->clocks;
    }
}

/* A fall belongs to the strobe that waits for it; one that nobody waits for may still belong to a strobe that the instrument shows
 * a little later. */
static void request_falls(hy_shakes *s, const hy_bus_step *step)
{
    int awaited = s->is_open && (s->open.flags & HY_SHAKE_HIGH) != 0 && s->open.fall < 0;
    if (awaited) {
        s->open.fall = step->ps;
        s->open.fall_at = step->clocks;
    } else {
        s->fell = step->ps;
        s->fell_at = step->clocks;
    }
}

static void give_up_fall(hy_shakes *s)
{
    if (s->fell >= 0 && !s->blind) {
        sight(&s->unasked, s->fell);
    }
    s->blind = s->blind && s->fell < 0;
    s->fell = -1;
}

static void code_changes(hy_shakes *s, const hy_bus_step *step)
{
    s->code_last = step->ps;
    if (!s->is_open || s->open.release >= 0 || step->ps == s->open.strobe) {
        return;
    }
    if (step->ps - s->open.strobe <= s->skew) {
        s->open.flags |= HY_SHAKE_DOUBT;
    } else if (s->code_changed < 0) {
        s->code_changed = step->ps;
    }
}

static void inflection_changes(hy_shakes *s, const hy_bus_step *step)
{
    sight(&s->inflection, step->ps);
    if (s->is_open && s->open.rise < 0 && step->ps - s->open.strobe > s->skew) {
        s->open.flags |= HY_SHAKE_INFLECTED;
    }
}

static void strobe_falls(hy_shakes *s, const hy_bus_step *step)
{
    if (s->code_changed >= 0 && step->ps - s->code_changed > s->skew) {
        sight(&s->moved, s->code_changed);
    }
    s->code_changed = -1;
    if (s->is_open && s->open.release < 0) {
        s->open.release = step->ps;
        s->open.release_at = step->clocks;
    }
}

static int strobe_rises(hy_shakes *s, const hy_bus_step *step, unsigned request)
{
    if (s->is_open) {
        s->open.end = step->ps;
        s->open.end_at = step->clocks;
        if (close_open(s) != 0) {
            return -1;
        }
    }
    s->open = (hy_shake){.strobe = step->ps,
                         .strobe_at = step->clocks,
                         .release = -1,
                         .fall = -1,
                         .rise = -1,
                         .end = -1,
                         .code = (uint8_t)(step->levels & HY_BUS_CODE)};
    s->is_open = 1;
    s->blind = 0;
    s->code_changed = -1;
    if (request != 0 || s->fell >= 0) {
        s->open.flags |= HY_SHAKE_HIGH;
    }
    if (s->fell >= 0) { /* seen a little ahead of its strobe */
        s->open.fall = step->ps;
        s->open.fall_at = step->clocks;
        s->fell = -1;
    }
    if ((step->unknown & HY_BUS_CODE) != 0) {
        s->open.flags |= HY_SHAKE_DOUBT;
        sight(&s->unknown, step->ps);
    }
    return 0;
}

/* ---- steps ---- */

static int start(hy_shakes *s, const hy_bus_step *step)
{
    s->last = *step;
    s->started = 1;
    s->blind = (step->levels & HY_BUS_STROBE) != 0;
    return 0;
}

/* Several edges in one time stamp are taken in the order in which a good board makes them: request rises, the host answers with
 * code and strobe, request falls. */
int hy_shakes_step(void *shakes, const hy_bus_step *step)
{
    hy_shakes *s = shakes;
    if (!s->started) {
        return start(s, step);
    }
    unsigned changed = step->levels ^ s->last.levels;
    unsigned rises = changed & step->levels;
    unsigned falls = changed & ~step->levels;
    unsigned lost = step->unknown & ~s->last.unknown & (HY_BUS_STROBE | HY_BUS_REQUEST | HY_BUS_INFLECTION);
    int strobes = (rises & HY_BUS_STROBE) != 0;
    unsigned request = ((s->last.levels | rises) & HY_BUS_REQUEST);
    if (s->fell >= 0 && step->ps - s->fell > s->skew) {
        give_up_fall(s);
    }
    if (lost != 0) {
        sight(&s->unknown, step->ps);
    }
    if ((rises & HY_BUS_REQUEST) != 0) {
        give_up_fall(s);
        request_rises(s, step);
    }
    int awaited = s->is_open && (s->open.flags & HY_SHAKE_HIGH) != 0 && s->open.fall < 0;
    int falls_first = (falls & HY_BUS_REQUEST) != 0 && (!strobes || awaited);
    if (falls_first) {
        request_falls(s, step);
        request = awaited ? 0 : request;
    }
    if ((changed & HY_BUS_INFLECTION) != 0) {
        inflection_changes(s, step);
    }
    if ((falls & HY_BUS_STROBE) != 0) {
        strobe_falls(s, step);
    }
    if ((changed & HY_BUS_CODE) != 0 && !strobes) {
        code_changes(s, step);
    }
    if (strobes && strobe_rises(s, step, request) != 0) {
        return -1;
    }
    if ((falls & HY_BUS_REQUEST) != 0 && !falls_first) {
        request_falls(s, step);
    }
    s->last = *step;
    return 0;
}

int hy_shakes_end(hy_shakes *s, int64_t ps, double clocks)
{
    give_up_fall(s);
    if (s->code_changed >= 0 && ps - s->code_changed > s->skew) {
        sight(&s->moved, s->code_changed);
    }
    if (!s->is_open) {
        return 0;
    }
    s->open.end = ps;
    s->open.end_at = clocks;
    s->open.flags |= HY_SHAKE_LAST;
    return close_open(s) != 0 ? -1 : put(s);
}
