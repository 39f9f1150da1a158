/* hyoid firmware: a microcontroller's firmware drives the chip; its pins' log becomes sound as every log does. */
#include "firmware.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>
#include <sys/resource.h>
#include <unistd.h>

#include "choices.h"
#include "optvalue.h"
#include "partfile.h"
#include "simulate.h"
#include "ticks.h"
#include "wiring.h"

enum { WIRING = HY_CHOICES, FOR, IDLE };

#define DAY_PS (INT64_C(86400) * HYOID_PS_PER_S)

static const hy_option options[] = {
    HY_CHOICE_ROWS,
    [WIRING] = {"wiring", 'w', "FILE",
                "which pin of the microcontroller goes to which pin of the chip: hyoid-wiring(5)"},
    [FOR] = {"for", 0, "TIME", "how long the firmware runs at most, such as 5s or 200ms, up to 24 h (default 60s)"},
    [IDLE] = {"idle", 0, "TIME",
              "end earlier when nothing has happened at the chip's pins for so long and no\n"
              "phoneme is under way (default 2s; off: don't)"},
    {NULL, 0, NULL, NULL},
};

static const hy_usage usage = {
    "firmware",
    "FILE.elf --wiring FILE -o FILE [options]",
    "Runs a microcontroller's (AVR) firmware beside the chip, pin by pin and clock by clock: ports or\n"
    "timers drive code, inflection, strobe and clock, and request comes back. What the firmware does\n"
    "is written down with exact times, and rendered as hyoid render does. It ends after --for, when\n"
    "idle, or when the firmware sleeps with interrupts off. What the firmware's UART says is shown.\n"
    "The built-in part is an estimate of the chip, not a reading.",
    options,
    "Examples:\n"
    "  avr-gcc -mmcu=atmega328p -Os -o s.elf docs/firmware/speaker.c && "
    "hyoid firmware s.elf -w docs/firmware/timer-clock.wiring -o s.wav\n"
    "  hyoid firmware s.elf -w docs/firmware/timer-clock.wiring --picture s.png --for 500ms",
};

typedef struct request {
    hy_choices choices;
    const char *firmware, *wiring;
    int64_t for_ps, idle_ps; /* idle_ps < 0: never */
} request;

static int take(void *user, int option, const char *value, hy_diag *diag)
{
    request *r = user;
    switch (option) {
    case HY_OPERAND:
        return hy_operand(&r->firmware, value, &usage, "FILE.elf", diag);
    case WIRING:
        r->wiring = value;
        return 0;
    case FOR:
        return hy_value_time(value, 1, DAY_PS, "a time above 0, up to 86400s, such as 5s or 200ms", "for", &r->for_ps,
                             diag);
    case IDLE:
        if (strcmp(value, "off") == 0) {
            r->idle_ps = -1;
            return 0;
        }
        return hy_value_time(value, 1, DAY_PS, "a time above 0, up to 86400s, such as 2s, or off", "idle",
                             &r->idle_ps, diag);
    default:
        return hy_choices_take(&r->choices, option, value, diag);
    }
}

/* Seconds that a processor has worked for this command, simulation and sound. */
static double worked(void)
{
    double seconds = 0.0;
    const int whose[] = {RUSAGE_SELF, RUSAGE_CHILDREN};
    for (size_t i = 0; i < sizeof whose / sizeof whose[0]; i++) {
        struct rusage used;
        if (getrusage(whose[i], &used) == 0) {
            seconds += (double)(used.ru_utime.tv_sec + used.ru_stime.tv_sec) +
                       (double)(used.ru_utime.tv_usec + used.ru_stime.tv_usec) * 1e-6;
        }
    }
    return seconds;
}

static void print_least(const char *what, uint64_t cycles, const hy_wiring *w, const char *behind)
{
    double us = (double)cycles * 1e6 / w->mcu_hz;
    if (cycles == UINT64_MAX) {
        return;
    }
    if (us < 1000.0) {
        fprintf(stderr, "%s %.3g us (%" PRIu64 " cycles)%s", what, us, cycles, behind);
    } else {
        fprintf(stderr, "%s %.3g ms%s", what, us * 1e-3, behind);
    }
}

static void report(const hy_wiring *w, const hy_simulated *s)
{
    static const char *const ends[] = {
        [HY_ENDED_LIMIT] = "its time was over",
        [HY_ENDED_IDLE] = "nothing more happened",
        [HY_ENDED_ASLEEP] = "it slept with interrupts off",
    };
    double ran = (double)s->cycles / w->mcu_hz, took = worked();
    fprintf(stderr, "firmware: %s at %.6g MHz, %.3f s until %s, at %.1f times real time on one core\n", w->mcu,
            w->mcu_hz * 1e-6, ran, ends[s->ended], took > 0.0 ? ran / took : 0.0);
    const hy_strobing *p = &s->strobing;
    if (p->strobes > 0) {
        fprintf(stderr, "strobe: %" PRIu64 " times", p->strobes);
        print_least(", high for at least", p->least_width, w, "");
        print_least(", code at least", p->least_setup, w, " ahead");
        print_least(", and kept for", p->least_hold, w, "");
        fputc('\n', stderr);
    }
    if (s->resets > 0) {
        fprintf(stderr, "note: the watchdog reset the firmware %" PRIu64 " time%s\n", s->resets,
                s->resets == 1 ? "" : "s");
    }
    if (s->fights) {
        fprintf(
            stderr,
            "note: the firmware made P%c%u an output, against the chip's request; on a board both could be damaged\n",
            w->request.port, w->request.bit);
    }
    if (w->clock.kind == HY_TO_PORT && s->edges == 0) {
        fprintf(stderr, "note: the firmware never clocked the chip: no rising edge on P%c%u\n", w->clock.port,
                w->clock.bit);
    }
}

static int writes_standard_output(const hy_render_options *o)
{
    const char *const places[] = {o->sound, o->pins, o->log, o->labels, o->picture};
    for (size_t i = 0; i < sizeof places / sizeof places[0]; i++) {
        if (places[i] != NULL && strcmp(places[i], "-") == 0) {
            return 1;
        }
    }
    return 0;
}

static int run(const request *r, const hyoid_part *part, hy_diag *diag)
{
    hy_wiring wiring;
    if (hy_wiring_read(&wiring, r->wiring, diag) != 0) {
        return -1;
    }
    const hy_simulation simulation = {
        .firmware = r->firmware,
        .wiring = &wiring,
        .wiring_name = r->wiring,
        .part = part,
        .limit = hy_ticks_cycle(r->for_ps, wiring.mcu_hz),
        .idle = r->idle_ps < 0 ? UINT64_MAX : hy_ticks_cycle(r->idle_ps, wiring.mcu_hz),
        .text = writes_standard_output(&r->choices.render) ? STDERR_FILENO : STDOUT_FILENO,
    };
    hy_simulated simulated;
    hy_input input = {.log = hy_simulate(&simulation, &simulated, diag)};
    if (input.log == NULL) {
        return -1;
    }
    hy_render_summary summary;
    int result = hy_render(&input, part, &r->choices.render, &summary, diag);
    if (result == 0 && !r->choices.quiet) {
        report(&wiring, &simulated);
        hy_render_print(&summary, &r->choices.render, r->choices.part);
    }
    hy_input_free(&input);
    return result;
}

static int run_with_part(const request *r, hy_diag *diag)
{
    if (r->choices.part == NULL) {
        return run(r, hyoid_part_default(), diag);
    }
    hy_partfile *file = hy_partfile_read(r->choices.part, diag);
    int result = file != NULL ? run(r, hy_partfile_part(file), diag) : -1;
    hy_partfile_free(file);
    return result;
}

static int check(const request *r, hy_diag *diag)
{
    if (hy_simulator_missing() != NULL) {
        return hy_fail(diag, "%s", hy_simulator_missing());
    }
    if (r->firmware == NULL) {
        return hy_fail(diag, "firmware needs a FILE.elf, as avr-gcc links it");
    }
    if (r->wiring == NULL) {
        return hy_fail(diag, "firmware needs a wiring: --wiring FILE (hyoid-wiring(5) says what stands in it)");
    }
    const char *const inputs[] = {r->firmware, r->wiring};
    return hy_choices_check(&r->choices, "firmware", inputs, 2, diag);
}

int hy_firmware_main(int argc, char **argv)
{
    request r = {.for_ps = 60 * HYOID_PS_PER_S, .idle_ps = 2 * HYOID_PS_PER_S};
    hy_choices_start(&r.choices);
    hy_diag diag = {""};
    int status = 0;
    if (hy_options_each(&usage, argc, argv, take, &r, &status, &diag) != 0) {
        return status;
    }
    if (check(&r, &diag) != 0 || run_with_part(&r, &diag) != 0) {
        return hy_refuse(&diag);
    }
    return 0;
}
