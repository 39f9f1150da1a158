#include "bridge.h"

#include <inttypes.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "partfile.h"
#include "report.h"
#include "stimulus.h"

enum { PAIRS = 16 };

typedef struct place {
    hy_pair pair;
    hy_stimulus stimulus;
    int stimulated;
    int reported;
    unsigned window;
    char vcd[1024];
} place;

/* A simulator is one process with one thread of Verilog: its chips stand here. */
static place *places[PAIRS];

static void print_to_stdout(const char *text)
{
    fputs(text, stdout);
    fflush(stdout);
}

static void (*print_text)(const char *text) = print_to_stdout;

void hyoid_lockstep_print_with(void (*print)(const char *text))
{
    print_text = print;
}

static void say(const char *format, ...) __attribute__((format(printf, 1, 2)));
static void say(const char *format, ...)
{
    char text[2048];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    print_text(text);
}

static place *at(int handle)
{
    return handle >= 0 && handle < PAIRS ? places[handle] : NULL;
}

static int check_setup(int checks, int bits, int fraction, int tolerance, int window, hy_diag *diag)
{
    if (checks < 1 || checks >= 1 << HY_FIELDS) {
        return hy_fail(diag, "checks is %d; 1 to %d would be right: 1 request, 2 phoneme, 4 slot, 8 level, 16 audio",
                       checks, (1 << HY_FIELDS) - 1);
    }
    if (bits < 2 || bits > 32 || fraction < 0 || fraction >= bits) {
        return hy_fail(diag,
                       "audio has %d bits, %d behind the point; 2 to 32, and fewer behind the point, would be right",
                       bits, fraction);
    }
    if (tolerance < 0 || window < 0 || window > HY_HISTORY) {
        return hy_fail(diag, "tolerance %d, window %d: neither may be negative, and a window has at most %d rows",
                       tolerance, window, HY_HISTORY);
    }
    return 0;
}

static int init(place *p, const char *part, const hy_pair_setup *setup, hy_diag *diag)
{
    hy_partfile *file = part[0] != '\0' ? hy_partfile_read(part, diag) : NULL;
    if (part[0] != '\0' && file == NULL) {
        return -1;
    }
    const hyoid_status status =
        hy_pair_init(&p->pair, file != NULL ? hy_partfile_part(file) : hyoid_part_default(), setup);
    hy_partfile_free(file);
    return status == HYOID_OK ? 0 : hy_fail(diag, "%s", hyoid_status_text(status));
}

int hyoid_lockstep_open(const char *part, int checks, int bits, int fraction, int tolerance, int window,
                        const char *vcd)
{
    hy_diag diag = {""};
    int handle = 0;
    while (handle < PAIRS && places[handle] != NULL) {
        handle++;
    }
    place *p = handle < PAIRS ? calloc(1, sizeof *p) : NULL;
    const hy_pair_setup setup = {
        .checks = (unsigned)checks, .bits = (unsigned)bits, .fraction = (unsigned)fraction, .tolerance = tolerance};
    if (p == NULL) {
        hy_fail(&diag, "no room for another chip: at most %d", PAIRS);
    } else if (strlen(vcd) >= sizeof p->vcd) {
        hy_fail(&diag, "the name of the VCD file is too long");
    } else if (check_setup(checks, bits, fraction, tolerance, window, &diag) == 0 &&
               init(p, part, &setup, &diag) == 0) {
        p->window = (unsigned)window;
        p->pair.setup.following = 4ull * p->pair.part.filter_clocks;
        memcpy(p->vcd, vcd, strlen(vcd) + 1);
        places[handle] = p;
        return handle;
    }
    free(p);
    say("hyoid lockstep: %s\n", diag.text);
    return -1;
}

int hyoid_lockstep_strobe(int handle, int code)
{
    place *p = at(handle);
    if (p != NULL) {
        hy_pair_strobe(&p->pair, (unsigned)code);
    }
    return 0;
}

static void report(place *p)
{
    char *text = NULL;
    size_t size = 0;
    p->reported = 1;
    FILE *memory = open_memstream(&text, &size);
    if (memory == NULL) {
        say("MISMATCH in clock %" PRIu64 ", and no memory to say more\n", p->pair.difference.clock);
        return;
    }
    hy_report_print(&p->pair, p->window, memory);
    fclose(memory);
    print_text(text);
    free(text);
    hy_diag diag = {""};
    if (p->vcd[0] != '\0' && hy_report_dump(&p->pair, p->vcd, &diag) != 0) {
        say("hyoid lockstep: %s\n", diag.text);
    } else if (p->vcd[0] != '\0') {
        say("both sides of it: %s\n", p->vcd);
    }
}

static void passed(const place *p)
{
    say("PASS: %" PRIu64 " clocks, %" PRIu64 " strobes, request rose %" PRIu64
        " times; design and model did the same\n",
        p->pair.clock, p->pair.edges, p->pair.rises);
}

int hyoid_lockstep_clock(int handle, long long word)
{
    place *p = at(handle);
    if (p == NULL) {
        return 1;
    }
    const hy_progress progress = hy_pair_clock(&p->pair, (uint64_t)word);
    if (progress == HY_DIFFERED && !p->reported) {
        report(p);
    }
    if (progress != HY_WORKED || !p->stimulated) {
        return progress == HY_DIFFERED;
    }
    if (p->pair.clock >= p->stimulus.clocks && !p->pair.difference.found) {
        passed(p);
        p->reported = 1;
        return 2;
    }
    if (!p->pair.difference.found) { /* from there on the pins rest: nothing hides how late the design is */
        hy_stimulus_follow(&p->stimulus, &p->pair);
    }
    return 0;
}

int hyoid_lockstep_close(int handle)
{
    place *p = at(handle);
    if (p == NULL) {
        return 1;
    }
    if (!p->reported && p->pair.difference.found) {
        report(p);
    } else if (!p->reported) {
        if (p->pair.clock > 0) {
            passed(p);
        } else {
            say("hyoid lockstep: no clock was seen while reset was low; nothing was compared\n");
        }
        p->reported = 1;
    }
    return p->pair.difference.found;
}

int hyoid_lockstep_close_all(void)
{
    for (int i = 0; i < PAIRS; i++) {
        if (places[i] != NULL) {
            hyoid_lockstep_close(i);
        }
    }
    return hyoid_lockstep_failures() > 0;
}

int hyoid_lockstep_failures(void)
{
    int failures = 0;
    for (int i = 0; i < PAIRS; i++) {
        failures += places[i] != NULL && places[i]->pair.difference.found;
    }
    return failures;
}

int hyoid_stimulus_start(int handle, long long seed, long long clocks)
{
    place *p = at(handle);
    if (p == NULL || seed < 0 || clocks < 1) {
        say("hyoid lockstep: a stimulus needs a pair, a seed from 0 on and at least one clock\n");
        return -1;
    }
    hy_stimulus_init(&p->stimulus, (uint64_t)seed, (uint64_t)clocks, &p->pair.part);
    p->stimulated = 1;
    say("hyoid lockstep: seed %lld, %lld clocks, part %016" PRIx64 "\n", seed, clocks, p->pair.chip.part_hash);
    return 0;
}

int hyoid_stimulus_pending(int handle)
{
    const place *p = at(handle);
    return p != NULL && p->stimulated ? (int)hy_stimulus_pending(&p->stimulus) : 0;
}

int hyoid_stimulus_take(int handle)
{
    place *p = at(handle);
    return p != NULL ? (int)hy_stimulus_take(&p->stimulus) : 0;
}
