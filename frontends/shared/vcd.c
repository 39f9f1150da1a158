/* Two layers: board events become changes of wires (hy_vcd_input and its helpers), and a short queue puts the changes in
 * order and writes them, one group a nanosecond (vcd_queue.c). */
#include "vcd.h"

#include <errno.h>
#include <stdlib.h>

#include "outfile.h"

#define STROBE_PS INT64_C(10000000)    /* width of an implied strobe */
#define RESTATE_PS INT64_C(1000000000) /* during a glide */
#define MOST_DELAYED_NS 1000
#define NONE INT64_MAX

/* A wire whose edges must not vanish. */
typedef struct edges {
    unsigned wire;
    int level;
    int64_t last_ns; /* of the last edge */
} edges;

struct hy_vcd {
    hy_outfile *file;
    hy_vcd_queue queue;
    hy_vcd_holds holds;
    unsigned code;
    int64_t code_ns; /* of its last change */
    edges strobe, request;
    int64_t rise_ps; /* of an implied strobe whose fall has no time yet, or NONE */
    /* the glide under way */
    int64_t glide_from, glide_to, glide_step;
    int64_t glide_next; /* of its next restatement, or NONE */
    double glide_hz, glide_to_hz;
};

static int64_t to_ns(int64_t ps)
{
    return (ps + 500) / 1000;
}

/* An edge that would share its nanosecond with the one before comes a nanosecond later, so that a short pulse
 * is still a pulse. If a thousand of them pile up, the rest become one and a comment says so. */
static int64_t put_edge(hy_vcd *vcd, edges *pin, int64_t ps, int level)
{
    int64_t ns = to_ns(ps);
    if (level == pin->level) {
        return ns;
    }
    if (ns <= pin->last_ns) {
        int merge = pin->last_ns - ns >= MOST_DELAYED_NS;
        ns = merge ? pin->last_ns : pin->last_ns + 1;
        if (merge) {
            hy_vcd_queue_merged(&vcd->queue, ns);
        }
    }
    pin->last_ns = ns;
    pin->level = level;
    hy_vcd_queue_bits(&vcd->queue, ns, pin->wire, level != 0 ? pin->wire : 0);
    return ns;
}

static void put_code(hy_vcd *vcd, int64_t ns, unsigned code)
{
    vcd->code_ns = ns > vcd->code_ns ? ns : vcd->code_ns;
    vcd->code = code;
    hy_vcd_queue_bits(&vcd->queue, vcd->code_ns, HY_VCD_CODE, code);
}

/* Lets the implied strobe fall: after its full width, or at `latest` if that is earlier. */
static void end_strobe(hy_vcd *vcd, int64_t latest)
{
    if (vcd->rise_ps != NONE) {
        int64_t full = vcd->rise_ps + STROBE_PS;
        put_edge(vcd, &vcd->strobe, full < latest ? full : latest, 0);
        vcd->rise_ps = NONE;
    }
}

/* The same, because the strobe rises again at `ps`. */
static void end_strobe_before(hy_vcd *vcd, int64_t ps)
{
    if (vcd->rise_ps != NONE) {
        end_strobe(vcd, vcd->rise_ps + (ps - vcd->rise_ps) / 2);
    }
}

/* Writes what lies before `ps` and can't be preceded by anything any more. */
static void flush(hy_vcd *vcd, int64_t ps)
{
    int64_t limit = to_ns(ps);
    int64_t held = vcd->strobe.last_ns + 1; /* where a pending fall could come at the earliest */
    hy_vcd_queue_flush(&vcd->queue, vcd->rise_ps != NONE && held < limit ? held : limit);
}

/* Restates the clock of a glide up to, not at, `ps`: what stands there is said by the event there. */
static void glide_up_to(hy_vcd *vcd, int64_t ps)
{
    while (vcd->glide_next < ps) {
        int64_t at = vcd->glide_next;
        flush(vcd, at);
        if (at == vcd->glide_to) {
            hy_vcd_queue_clock(&vcd->queue, to_ns(at), vcd->glide_to_hz);
            vcd->glide_next = NONE;
            return;
        }
        double share = (double)(at - vcd->glide_from) / (double)(vcd->glide_to - vcd->glide_from);
        hy_vcd_queue_clock(&vcd->queue, to_ns(at), vcd->glide_hz + (vcd->glide_to_hz - vcd->glide_hz) * share);
        vcd->glide_next = vcd->glide_to - at > vcd->glide_step ? at + vcd->glide_step : vcd->glide_to;
    }
}

/* Everything from now on happens at `ps` or later. */
static void advance(hy_vcd *vcd, int64_t ps)
{
    if (vcd->rise_ps != NONE && ps - vcd->rise_ps >= 2 * STROBE_PS) {
        end_strobe(vcd, NONE); /* no next one was near enough to shorten it */
    }
    glide_up_to(vcd, ps);
    flush(vcd, ps);
}

static void start_clock(hy_vcd *vcd, const hy_event *event)
{
    hy_vcd_queue_clock(&vcd->queue, to_ns(event->ps), event->hz);
    vcd->glide_next = NONE;
    if (event->to_ps > event->ps) {
        int64_t length = event->to_ps - event->ps;
        int64_t step = length / 16 > 1000 ? length / 16 : 1000; /* a short glide still looks like one */
        vcd->glide_from = event->ps;
        vcd->glide_to = event->to_ps;
        vcd->glide_hz = event->hz;
        vcd->glide_to_hz = event->to_hz;
        vcd->glide_step = step < RESTATE_PS ? step : RESTATE_PS;
        vcd->glide_next = length > vcd->glide_step ? event->ps + vcd->glide_step : event->to_ps;
    }
}

static void implied_write(hy_vcd *vcd, int64_t ps, unsigned code)
{
    end_strobe_before(vcd, ps);
    put_edge(vcd, &vcd->strobe, ps, 0); /* a host that holds the pin high must let go of it first */
    put_code(vcd, put_edge(vcd, &vcd->strobe, ps, 1), code);
    vcd->rise_ps = ps;
}

static void raw_pin(hy_vcd *vcd, int64_t ps, int number)
{
    int pin = number / 2;
    int level = number % 2;
    if (pin >= HY_P0 && pin <= HY_P5) {
        unsigned bit = 1u << (pin - HY_P0);
        put_code(vcd, to_ns(ps), level != 0 ? vcd->code | bit : vcd->code & ~bit);
    } else if (pin == HY_I0 || pin == HY_I1) {
        unsigned wire = pin == HY_I0 ? HY_VCD_I0 : HY_VCD_I1;
        hy_vcd_queue_bits(&vcd->queue, to_ns(ps), wire, level != 0 ? wire : 0);
    } else if (pin == HY_STROBE && level != 0) {
        end_strobe_before(vcd, ps);
        put_edge(vcd, &vcd->strobe, ps, 1);
    } else if (pin == HY_STROBE) {
        end_strobe(vcd, ps);
        put_edge(vcd, &vcd->strobe, ps, 0);
    }
}

void hy_vcd_input(hy_vcd *vcd, const hy_event *event, const hy_log *log)
{
    advance(vcd, event->ps);
    switch ((hy_signal)event->signal) {
    case HY_PHONEME:
        implied_write(vcd, event->ps, (unsigned)event->number & 63);
        break;
    case HY_INFLECTION:
        hy_vcd_queue_bits(&vcd->queue, to_ns(event->ps), HY_VCD_I0 | HY_VCD_I1, (unsigned)event->number * HY_VCD_I0);
        break;
    case HY_CLOCK:
        start_clock(vcd, event);
        break;
    case HY_PIN:
        raw_pin(vcd, event->ps, event->number);
        break;
    case HY_MARK: {
        const char *name = hy_log_mark_name(log, event->number);
        hy_vcd_queue_mark(&vcd->queue, to_ns(event->ps), name != NULL ? name : "");
        break;
    }
    case HY_END:
        break;
    }
}

void hy_vcd_request(hy_vcd *vcd, int64_t ps, int level)
{
    advance(vcd, ps);
    put_edge(vcd, &vcd->request, ps, level != 0);
}

void hy_vcd_level(hy_vcd *vcd, int64_t ps, double fraction, double value)
{
    (void)fraction; /* below one ps: can't move the nearest nanosecond */
    if (vcd->holds == HY_VCD_ALL) {
        advance(vcd, ps);
        hy_vcd_queue_audio(&vcd->queue, to_ns(ps), value);
    }
}

hy_vcd *hy_vcd_open(const char *path, hy_vcd_holds holds, const char *note, hy_diag *diag)
{
    hy_vcd *vcd = calloc(1, sizeof *vcd);
    if (vcd == NULL) {
        hy_fail(diag, "cannot write %s: out of memory", path);
        return NULL;
    }
    vcd->file = hy_outfile_open(path, diag);
    if (vcd->file == NULL) {
        free(vcd);
        return NULL;
    }
    vcd->holds = holds;
    vcd->strobe = (edges){HY_VCD_STROBE, 0, 0};
    vcd->request = (edges){HY_VCD_REQUEST, 1, 0}; /* the chip powers up wanting a phoneme */
    vcd->rise_ps = NONE;
    vcd->glide_next = NONE;
    hy_vcd_queue_start(&vcd->queue, hy_outfile_stream(vcd->file), holds, note);
    return vcd;
}

int hy_vcd_finish(hy_vcd *vcd, int64_t end_ps, hy_diag *diag)
{
    end_strobe(vcd, NONE);
    advance(vcd, end_ps);
    glide_up_to(vcd, end_ps + 1); /* no event comes that would say where it arrived */
    hy_vcd_queue_end(&vcd->queue, to_ns(end_ps));
    if (vcd->queue.out_of_memory) {
        return hy_outfile_fail(vcd->file, ENOMEM, diag);
    }
    return hy_outfile_finish(vcd->file, diag);
}

int hy_vcd_commit(hy_vcd *vcd, hy_diag *diag)
{
    int result = hy_outfile_commit(vcd->file, diag);
    vcd->file = NULL;
    hy_vcd_abandon(vcd);
    return result;
}

void hy_vcd_abandon(hy_vcd *vcd)
{
    if (vcd != NULL) {
        hy_vcd_queue_free(&vcd->queue);
        hy_outfile_abandon(vcd->file);
        free(vcd);
    }
}
