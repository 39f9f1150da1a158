/* All outputs of one performance, side by side. */
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "labels.h"
#include "optvalue.h"
#include "outfile.h"
#include "outputs.h"
#include "partfile_fields.h"
#include "perform.h"
#include "picture.h"
#include "sound.h"
#include "vcd.h"

typedef struct outputs {
    const hy_render_options *options;
    hy_render_summary *summary;
    hy_diag *diag;
    hy_log *log;
    hy_sound *sound;
    hy_vcd *vcd;
    hy_labels *labels;
    hy_picture *picture;
    hy_outfile *csv;
    hy_event clock; /* the clock event in force, for the picture */
    int64_t end_ps;
} outputs;

static void on_frames(void *user, const float *frames, size_t count)
{
    outputs *o = user;
    if (o->sound != NULL && !o->options->chip_rate) {
        hy_sound_write(o->sound, frames, count, o->diag);
        o->summary->frames += count;
    }
    if (o->picture != NULL) {
        hy_picture_frames(o->picture, frames, count);
    }
}

static void on_level(void *user, uint64_t cycle, int64_t ps, double fraction, double value)
{
    outputs *o = user;
    (void)cycle;
    if (o->vcd != NULL) {
        hy_vcd_level(o->vcd, ps, fraction, value);
    }
    if (o->sound != NULL && o->options->chip_rate) {
        float frame = (float)value;
        hy_sound_write(o->sound, &frame, 1, o->diag);
        o->summary->frames++;
    }
}

static void on_latch(void *user, uint64_t cycle, int64_t ps, unsigned code)
{
    outputs *o = user;
    (void)cycle;
    o->summary->phonemes++;
    if (o->labels != NULL) {
        hy_labels_latch(o->labels, ps, code);
    }
    if (o->picture != NULL) {
        hy_picture_latch(o->picture, ps, code);
    }
}

static void on_request(void *user, uint64_t cycle, int64_t ps, int level)
{
    outputs *o = user;
    (void)cycle;
    if (o->vcd != NULL) {
        hy_vcd_request(o->vcd, ps, level);
    }
    if (o->labels != NULL) {
        hy_labels_request(o->labels, ps, level);
    }
    if (o->picture != NULL) {
        hy_picture_request(o->picture, ps, level);
    }
}

static void on_prepare(void *user, hyoid_stream *stream)
{
    hy_fault fault = ((outputs *)user)->options->fault;
    hy_fault_prepare(&fault, stream);
}

/* The stretch since the last clock event is known now that it ends. */
static void finish_clock(outputs *o, int64_t ps)
{
    if (o->clock.signal != HY_CLOCK || ps <= o->clock.ps || o->picture == NULL) {
        return;
    }
    if (o->clock.to_ps > o->clock.ps) {
        hy_picture_clock(o->picture, o->clock.ps, o->clock.hz, o->clock.to_ps, o->clock.to_hz);
    } else {
        hy_picture_clock(o->picture, o->clock.ps, o->clock.hz, ps, o->clock.hz);
    }
}

static void see_clock(outputs *o, const hy_event *event)
{
    hy_render_summary *s = o->summary;
    finish_clock(o, event->ps);
    if (o->clock.signal != HY_CLOCK || (event->ps == 0 && o->clock.ps == 0) || !(s->most_hz > 0.0)) {
        s->least_hz = s->most_hz = event->hz; /* where it starts */
    }
    s->least_hz = event->hz < s->least_hz ? event->hz : s->least_hz;
    s->most_hz = event->hz > s->most_hz ? event->hz : s->most_hz;
    s->clock_moved = s->least_hz != s->most_hz;
    o->clock = *event;
}

static void on_input(void *user, const hy_event *event)
{
    outputs *o = user;
    if (o->vcd != NULL) {
        hy_vcd_input(o->vcd, event, o->log);
    }
    if (event->signal == HY_CLOCK) {
        see_clock(o, event);
    } else if (event->signal == HY_MARK) {
        const char *name = hy_log_mark_name(o->log, event->number);
        if (o->sound != NULL) {
            /* at chip rate the frames so far; else by time, for those frames are still on their way */
            double frame = (double)event->ps * 1e-12 * o->options->rate + 0.5;
            hy_sound_mark(o->sound, o->options->chip_rate ? (int64_t)o->summary->frames : (int64_t)frame, name,
                          o->diag);
        }
        if (o->labels != NULL) {
            hy_labels_mark(o->labels, event->ps, name);
        }
        if (o->picture != NULL) {
            hy_picture_mark(o->picture, event->ps, name);
        }
    }
}

/* The clock at time 0 (the last event there counts); if it stands still then, the first at which it runs. */
static int starting_clock(hy_log *log, double *hz, hy_diag *diag)
{
    hy_event event;
    int more = hy_log_rewind(log, diag);
    while (more >= 0 && (more = hy_log_next(log, &event, diag)) == 1 && (event.ps == 0 || !(*hz > 0.0))) {
        *hz = event.signal == HY_CLOCK ? event.hz : *hz;
    }
    return more < 0 ? -1 : 0;
}

static int open_sound(outputs *o, const hyoid_part *part)
{
    const hy_render_options *options = o->options;
    uint32_t rate = options->rate;
    if (options->chip_rate) {
        double hz = part->nominal_hz;
        if (starting_clock(o->log, &hz, o->diag) != 0) {
            return -1;
        }
        double filter_hz = hz / part->filter_clocks;
        if (!(filter_hz >= 1.0 && filter_hz <= HYOID_RATE_MAX)) {
            return hy_fail(o->diag,
                           "--chip-rate needs a clock of %u to %u Hz at the start, not %.9g: a WAV holds 1 to %u "
                           "samples a second",
                           part->filter_clocks, HYOID_RATE_MAX * part->filter_clocks, hz, HYOID_RATE_MAX);
        }
        rate = (uint32_t)(filter_hz + 0.5);
    }
    const hy_sound_options sound = {.rate = rate, .bits = options->bits, .dither = options->dither};
    o->summary->rate = rate;
    o->sound = hy_sound_open(options->sound, &sound, o->diag);
    return o->sound != NULL ? 0 : -1;
}

/* What a picture or a dump must say of the chip behind it; empty: nothing. */
static void note_of(const outputs *o, const hyoid_part *part, char *text, size_t size)
{
    const hy_fault *fault = &o->options->fault;
    snprintf(text, size, "%s%s%s%s", fault->given ? "A chip with the fault " : "",
             fault->given ? hy_fault_say(fault).text : "", fault->given ? ". " : "", hy_part_note(part));
}

static int open_all(outputs *o, const hyoid_part *part)
{
    const hy_render_options *options = o->options;
    char note[300];
    note_of(o, part, note, sizeof note);
    if (options->sound != NULL && open_sound(o, part) != 0) {
        return -1;
    }
    if (options->pins != NULL &&
        (o->vcd = hy_vcd_open(options->pins, options->logic ? HY_VCD_LOGIC : HY_VCD_ALL, note, o->diag)) == NULL) {
        return -1;
    }
    if (options->labels != NULL && (o->labels = hy_labels_open(options->labels, o->diag)) == NULL) {
        return -1;
    }
    if (options->picture != NULL) {
        char title[200];
        const char *name = options->sound != NULL ? options->sound : options->picture;
        const char *slash = strrchr(name, '/');
        snprintf(title, sizeof title, "%s", slash != NULL ? slash + 1 : name);
        o->picture = hy_picture_open(options->picture, options->rate, o->end_ps, title, note, o->diag);
        if (o->picture == NULL) {
            return -1;
        }
    }
    if (options->log != NULL) {
        o->csv = hy_outfile_open(options->log, o->diag);
        if (o->csv == NULL || hy_log_write_csv(o->log, hy_outfile_stream(o->csv), o->diag) != 0) {
            return -1;
        }
    }
    return 0;
}

static int finish_all(outputs *o)
{
    finish_clock(o, o->end_ps);
    int failed = o->diag->text[0] != '\0';
    failed = failed || (o->sound != NULL && hy_sound_finish(o->sound, o->diag) != 0);
    failed = failed || (o->vcd != NULL && hy_vcd_finish(o->vcd, o->end_ps, o->diag) != 0);
    failed = failed || (o->labels != NULL && hy_labels_finish(o->labels, o->end_ps, o->diag) != 0);
    failed = failed || (o->picture != NULL && hy_picture_finish(o->picture, o->diag) != 0);
    failed = failed || (o->csv != NULL && hy_outfile_finish(o->csv, o->diag) != 0);
    return failed ? -1 : 0;
}

/* ---- all or none ---- */

enum { SOUND, PINS, LABELS, PICTURE, LOG, PLACES };

static const char *place_of(const outputs *o, int which)
{
    const hy_render_options *options = o->options;
    const char *const places[] = {options->sound, options->pins, options->labels, options->picture, options->log};
    return places[which];
}

/* Commits and forgets one of the outputs. */
static int commit(outputs *o, int which)
{
    int failed = 0;
    switch (which) {
    case SOUND:
        failed = o->sound != NULL ? hy_sound_commit(o->sound, o->diag) : 0;
        o->sound = NULL;
        break;
    case PINS:
        failed = o->vcd != NULL ? hy_vcd_commit(o->vcd, o->diag) : 0;
        o->vcd = NULL;
        break;
    case LABELS:
        failed = o->labels != NULL ? hy_labels_commit(o->labels, o->diag) : 0;
        o->labels = NULL;
        break;
    case PICTURE:
        failed = o->picture != NULL ? hy_picture_commit(o->picture, o->diag) : 0;
        o->picture = NULL;
        break;
    default:
        failed = o->csv != NULL ? hy_outfile_commit(o->csv, o->diag) : 0;
        o->csv = NULL;
        break;
    }
    return failed;
}

/* Everything is on the disk. What goes to standard output, a device or a pipe must still be copied, which can fail;
 * it goes first, so that a failure leaves no file. Then only renaming is left. */
static int commit_all(outputs *o)
{
    int copied[PLACES];
    if (o->sound != NULL) {
        o->summary->clipped = hy_sound_clipped(o->sound);
        o->summary->peak = hy_sound_peak(o->sound);
    }
    for (int i = 0; i < PLACES; i++) {
        const char *place = place_of(o, i);
        struct stat status;
        copied[i] =
            place != NULL && (strcmp(place, "-") == 0 || (stat(place, &status) == 0 && !S_ISREG(status.st_mode)));
    }
    for (int renaming = 0; renaming <= 1; renaming++) {
        for (int i = 0; i < PLACES; i++) {
            if (copied[i] != renaming && commit(o, i) != 0) {
                return -1;
            }
        }
    }
    return 0;
}

static void abandon_all(outputs *o)
{
    if (o->sound != NULL) {
        hy_sound_abandon(o->sound);
    }
    if (o->vcd != NULL) {
        hy_vcd_abandon(o->vcd);
    }
    if (o->labels != NULL) {
        hy_labels_abandon(o->labels);
    }
    if (o->picture != NULL) {
        hy_picture_abandon(o->picture);
    }
    hy_outfile_abandon(o->csv);
}

int hy_render(const hy_input *input, const hyoid_part *part, const hy_render_options *options,
              hy_render_summary *summary, hy_diag *diag)
{
    memset(summary, 0, sizeof *summary);
    outputs o = {
        .options = options, .summary = summary, .diag = diag, .log = input->log, .clock = {.signal = HY_END}};
    int64_t over = input->from_score ? hy_log_end(input->log) : hy_perform_end(input->log, part, diag);
    if (over < 0) {
        return -1;
    }
    o.end_ps = over + options->tail_ps;
    summary->duration_ps = o.end_ps;

    int host_rate = (options->sound != NULL && !options->chip_rate) || options->picture != NULL;
    int levels = options->pins != NULL || (options->sound != NULL && options->chip_rate);
    const hy_performance performance = {
        .log = input->log,
        .part = part,
        .rate = host_rate ? options->rate : 0,
        .end_ps = o.end_ps,
        .no_images = options->no_images,
        .prepare = options->fault.given ? on_prepare : NULL,
        .observer = {&o, host_rate ? on_frames : NULL, levels ? on_level : NULL, on_latch, on_request},
        .input = on_input,
    };
    int result = open_all(&o, part);
    if (result == 0) {
        result = hy_perform(&performance, diag);
    }
    if (result == 0) {
        result = finish_all(&o);
    }
    if (result == 0) {
        result = commit_all(&o);
    }
    if (result != 0) {
        abandon_all(&o);
    }
    return result;
}

void hy_render_print(const hy_render_summary *s, const hy_render_options *options, const char *part)
{
    fprintf(stderr, "%.3f s, %" PRIu64 " phoneme%s", (double)s->duration_ps * 1e-12, s->phonemes,
            s->phonemes == 1 ? "" : "s");
    if (s->clock_moved) {
        fprintf(stderr, ", clock %.6g..%.6g kHz", s->least_hz * 1e-3, s->most_hz * 1e-3);
    } else {
        fprintf(stderr, ", clock %.6g kHz", s->most_hz * 1e-3);
    }
    if (options->sound != NULL && s->peak > 0.0f) {
        fprintf(stderr, ", peak %.1f dBFS", 20.0 * log10((double)s->peak));
    }
    if (options->fault.given) {
        fprintf(stderr, ", fault: %s", hy_fault_say(&options->fault).text);
    }
    fprintf(stderr, ", part: %s\n", part != NULL ? part : "built-in (an estimate)");
    if (s->phonemes == 0) {
        fprintf(stderr, "note: nothing was spoken: %s\n",
                !(s->most_hz > 0.0) ? "the clock never ran"
                : options->fault.given
                    ? "the input has no phoneme and no rising strobe, or the fault kept them from the chip"
                    : "the input has no phoneme and no rising strobe");
    }
    hy_clock_tell_slow(s->most_hz, stderr);
    if (s->clipped > 0) {
        fprintf(stderr, "note: %" PRIu64 " of %" PRIu64 " samples exceeded full scale%s\n", s->clipped, s->frames,
                options->bits == 32 ? " (kept, floating point)" : " and were clipped");
    }
    if (options->sound != NULL && options->chip_rate && s->clock_moved) {
        fprintf(stderr, "note: the clock moved; at chip rate the file's %u Hz hold for its start only\n", s->rate);
    }
}
