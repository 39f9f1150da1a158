/* hyoid vectors: a track holds all that a chip needs to do the same again, clock by clock; masks; folders whole or absent. */
#include <criterion/criterion.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <hyoid/hyoid.h>

#include "../../frontends/vectors/mask.h"
#include "../../frontends/vectors/track.h"
#include "fixed.h"
#include "outfolder.h"
#include "scratch.h"

TestSuite(vectors, .init = scratch_begin, .fini = scratch_end);

Test(vectors, fixed_point)
{
    uint64_t clipped = 0;
    cr_assert_eq(hy_fixed(0.0, 8, 4, &clipped), 0);
    cr_assert_eq(hy_fixed(1.0, 8, 4, &clipped), 16);
    cr_assert_eq(hy_fixed(0.03125, 8, 4, &clipped), 1, "half of one goes up");
    cr_assert_eq(hy_fixed(-0.03125, 8, 4, &clipped), 0, "half of one goes up");
    cr_assert_eq(hy_fixed(-0.04, 8, 4, &clipped), -1);
    cr_assert_eq(hy_fixed(7.96, 8, 4, &clipped), 127);
    cr_assert_eq(clipped, 0);
    cr_assert_eq(hy_fixed(7.97, 8, 4, &clipped), 127);
    cr_assert_eq(hy_fixed(-8.1, 8, 4, &clipped), -128);
    cr_assert_eq(clipped, 2);
    cr_assert_eq(hy_fixed(-1e30, 32, 31, NULL), INT32_MIN);
    cr_assert_eq(hy_fixed(1e30, 32, 31, NULL), INT32_MAX);
}

/* ---- tracks ---- */

enum { BITS = 24, FRACTION = 20 };

/* A chip of its own is given the rows, as a test bench would; it must answer as they say. */
static void replay(const hy_track *track, const hyoid_part *part)
{
    static hyoid_chip chip;
    cr_assert_eq(hyoid_chip_init(&chip, part), HYOID_OK);
    cr_assert_eq(track->request[0], 1);
    cr_assert_eq(track->stimulus[0] & 0x8000u, 0);
    uint64_t strobes = 0, level = 0;
    for (uint64_t clock = 1; clock <= track->clocks; clock++) {
        const unsigned row = track->stimulus[clock];
        if (row & 0x8000u) {
            hyoid_chip_write(&chip, row >> 9 & 63);
            strobes++;
        }
        hyoid_chip_set_code(&chip, row & 63);
        hyoid_chip_set_inflection(&chip, row >> 6 & 3);
        hyoid_level now;
        if (hyoid_chip_run(&chip, 1, &now, 1) == 1) {
            level++;
            cr_assert_eq(track->level[level], hy_fixed(now.value, BITS, FRACTION, NULL), "level %d", (int)level);
        }
        cr_assert_eq(track->request[clock], hyoid_chip_request(&chip), "request in clock %d", (int)clock);
    }
    cr_assert_eq(strobes, track->strobes);
    cr_assert_eq(level, track->levels);
}

static void add(hy_log *log, int64_t ps, hy_signal signal, int number, double hz, int glides)
{
    hy_diag diag = {""};
    const hy_event event = {.ps = ps, .signal = (int32_t)signal, .number = number, .hz = hz};
    cr_assert_eq(hy_log_append(log, &event, glides, &diag), 0, "%s", diag.text);
}

static const int64_t us = 1000000;

/* Writes, single pins, strobes in a row and within one clock, glides, a clock that stands: all from one seed. */
static hy_log *random_log(unsigned seed, int64_t *end)
{
    hy_diag diag = {""};
    hy_log *log = hy_log_new(&diag);
    int64_t ps = 0;
    srand(seed);
    add(log, 0, HY_CLOCK, 0, 720000.0, 0);
    for (int i = 0; i < 300; i++) {
        static const int64_t gaps[] = {0, 100000, 700000, 1388889, 20000000, 3000000000};
        ps += gaps[rand() % 6] * (rand() % 4);
        switch (rand() % 8) {
        case 0:
        case 1:
        case 2:
            add(log, ps, HY_PHONEME, rand() % 64, 0, 0);
            break;
        case 3:
            add(log, ps, HY_INFLECTION, rand() % 4, 0, 0);
            break;
        case 4:
        case 5:
            add(log, ps, HY_PIN, rand() % 18, 0, 0);
            break;
        case 6:
            add(log, ps, HY_PIN, HY_STROBE * 2 + rand() % 2, 0, 0);
            break;
        default:
            ps += us;
            add(log, ps, HY_CLOCK, 0, (double)(rand() % 5) * 300000.0, rand() % 2);
            break;
        }
    }
    ps += 100 * us;
    add(log, ps, HY_CLOCK, 0, 720000.0, 0);
    ps += 300000 * us;
    add(log, ps, HY_END, 0, 0, 0);
    *end = ps;
    return log;
}

Test(vectors, tracks_replay)
{
    for (unsigned seed = 1; seed <= 12; seed++) {
        hy_diag diag = {""};
        hy_track track;
        hy_track_setup setup = {hyoid_part_default(), 0, 0, BITS, FRACTION};
        hy_log *log = random_log(seed, &setup.end_ps);
        cr_assert_eq(hy_track_play(&track, log, &setup, &diag), 0, "seed %u: %s", seed, diag.text);
        cr_assert_gt(track.strobes, 20, "seed %u", seed);
        replay(&track, setup.part);

        /* the first clocks alone are the same, and end where their count is reached */
        hy_track first;
        hy_track_setup cut = setup;
        cut.most = track.clocks / 3;
        cr_assert_eq(hy_track_play(&first, log, &cut, &diag), 0, "%s", diag.text);
        cr_assert_eq(first.clocks, cut.most);
        cr_assert_arr_eq(first.stimulus, track.stimulus, first.clocks * sizeof *first.stimulus);
        cr_assert_arr_eq(first.request, track.request, first.clocks + 1);
        cr_assert_arr_eq(first.level, track.level, (first.levels + 1) * sizeof *first.level);
        cr_assert_lt(cut.end_ps, setup.end_ps);
        hy_track_free(&first);
        hy_track_free(&track);
        hy_log_free(log);
    }
}

/* An implied strobe is high for 10 us, or for half the gap to the next. */
Test(vectors, implied_strobes)
{
    hy_diag diag = {""};
    hy_log *log = hy_log_new(&diag);
    add(log, 0, HY_CLOCK, 0, 1e6, 0); /* a clock each microsecond: clock n rises at n us */
    add(log, 100 * us + us / 2, HY_PHONEME, 1, 0, 0);
    add(log, 200 * us + us / 2, HY_PHONEME, 2, 0, 0);
    add(log, 208 * us + us / 2, HY_PHONEME, 3, 0, 0);
    add(log, 300 * us, HY_END, 0, 0, 0);
    hy_track track;
    hy_track_setup setup = {hyoid_part_default(), 300 * us, 0, BITS, FRACTION};
    cr_assert_eq(hy_track_play(&track, log, &setup, &diag), 0, "%s", diag.text);
    const struct {
        uint64_t clock;
        unsigned row;
    } rows[] = {{100, 0},     {101, 0x8301}, {102, 0x101},  {110, 0x101}, {111, 0x001}, {201, 0x8502},
                {204, 0x102}, {205, 0x002},  {209, 0x8703}, {218, 0x103}, {219, 0x003}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        cr_assert_eq(track.stimulus[rows[i].clock], rows[i].row, "clock %d: %04x", (int)rows[i].clock,
                     track.stimulus[rows[i].clock]);
    }
    replay(&track, setup.part);
    hy_track_free(&track);
    hy_log_free(log);
}

Test(vectors, too_long)
{
    hy_diag diag = {""};
    hy_log *log = hy_log_new(&diag);
    add(log, 0, HY_CLOCK, 0, 100e6, 0);
    add(log, 3600000000 * us, HY_END, 0, 0, 0);
    hy_track track;
    hy_track_setup setup = {hyoid_part_default(), 3600000000 * us, 0, BITS, FRACTION};
    cr_assert_eq(hy_track_play(&track, log, &setup, &diag), -1);
    cr_assert(strstr(diag.text, "takes the first N") != NULL, "%s", diag.text);
    cr_assert_null(track.stimulus);
    hy_log_free(log);
}

/* ---- masks ---- */

Test(vectors, masks)
{
    uint8_t request[] = {1, 1, 1, 1, 0, 0, 0, 0, 0, 1, 1, 1};
    const hy_track track = {.clocks = 11, .request = request};
    hy_diag diag = {""};
    uint8_t *mask = hy_mask_make(&track, &(hy_mask_setup){"0..1,11..400,6", 1}, &diag);
    cr_assert_not_null(mask, "%s", diag.text);
    const uint8_t wanted[] = {0, 0, 3, 2, 2, 3, 0, 3, 2, 2, 3, 0};
    cr_assert_arr_eq(mask, wanted, sizeof wanted);
    free(mask);
    const char *const bad[] = {"", ",", "1,", "5..3", "a", "1..", "-1", "1...2", "1 ", "99999999999999999999"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        diag.text[0] = '\0';
        cr_assert_eq(hy_mask_check(bad[i], &diag), -1, "\"%s\" was taken", bad[i]);
        cr_assert(strstr(diag.text, "--ignore") != NULL, "%s", diag.text);
    }
}

/* ---- folders ---- */

Test(vectors, folders_whole_or_absent)
{
    hy_diag diag = {""};
    hy_outfolder *folder = hy_outfolder_open(scratch("new//"), &diag);
    cr_assert_not_null(folder, "%s", diag.text);
    FILE *file = hy_outfolder_file(folder, "a", &diag);
    cr_assert_not_null(file);
    fputs("x", file);
    cr_assert_eq(hy_outfolder_close(folder, file, &diag), 0);
    cr_assert_neq(access(scratch("new"), F_OK), 0, "there before it is complete");
    cr_assert_eq(hy_outfolder_commit(folder, &diag), 0, "%s", diag.text);
    cr_assert_eq(access(scratch("new/a"), R_OK), 0);
    struct stat status;
    cr_assert_eq(stat(scratch("new"), &status), 0);
    const mode_t mask = umask(0);
    umask(mask);
    cr_assert_eq(status.st_mode & 0777u, 0777u & ~mask);

    cr_assert_null(hy_outfolder_open(scratch("new"), &diag), "an existing folder was taken");
    cr_assert(strstr(diag.text, "exists already") != NULL, "%s", diag.text);
    diag.text[0] = '\0';
    folder = hy_outfolder_open(scratch("other"), &diag);
    cr_assert_not_null(hy_outfolder_file(folder, "b", &diag));
    hy_outfolder_abandon(folder);
    cr_assert_eq(scratch_count(), 1, "something was left behind");

    /* someone else makes it meanwhile */
    folder = hy_outfolder_open(scratch("race"), &diag);
    cr_assert_eq(mkdir(scratch("race"), 0777), 0);
    cr_assert_eq(hy_outfolder_commit(folder, &diag), -1);
    cr_assert_eq(scratch_count(), 2);
    diag.text[0] = '\0';
    cr_assert_null(hy_outfolder_open("", &diag));
    cr_assert_null(hy_outfolder_open(scratch("none/x"), &diag));
}
