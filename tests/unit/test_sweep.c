/* The clocks of a sweep: ranges, tables, RC oscillators. */
#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "../../frontends/sweep/clocks.h"
#include "scratch.h"

static hy_diag diag;
static hy_sweep_clocks clocks;

static void begin(void)
{
    scratch_begin();
    diag.text[0] = '\0';
    clocks = (hy_sweep_clocks){NULL, 0};
}

static void end(void)
{
    hy_clocks_free(&clocks);
    scratch_end();
}

TestSuite(sweep, .init = begin, .fini = end);

Test(sweep, a_range_has_equal_ratios_or_differences)
{
    cr_assert_eq(hy_clocks_range(&clocks, "500k..1M", 3, 0, &diag), 0, "%s", diag.text);
    cr_expect_eq(clocks.count, 3);
    cr_expect_float_eq(clocks.clock[1].hz, 500e3 * sqrt(2), 1e-6);
    cr_expect_eq(clocks.clock[2].hz, 1e6);
    hy_clocks_free(&clocks);
    cr_assert_eq(hy_clocks_range(&clocks, "1M..500k", 3, 1, &diag), 0);
    cr_expect_eq(clocks.clock[1].hz, 750e3);
    cr_expect_str_eq(clocks.clock[2].label, "3");
    hy_clocks_free(&clocks);
    cr_assert_eq(hy_clocks_range(&clocks, "720k..1M", 1, 0, &diag), 0);
    cr_expect_eq(clocks.clock[0].hz, 720e3);
}

Test(sweep, bad_ranges)
{
    static const char *const bad[] = {"",        "..",       "720k",     "720k..", "..720k",  "720k...1M",
                                      "0..720k", "10..720k", "1k..101M", "a..b",   "-1k..1M", "1k..2k..3k"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        diag.text[0] = '\0';
        cr_expect_eq(hy_clocks_range(&clocks, bad[i], 3, 0, &diag), -1, "%s", bad[i]);
        cr_expect_neq(diag.text[0], '\0');
    }
}

Test(sweep, components_as_people_write_them)
{
    static const struct {
        const char *text;
        double ohm, farad, ohm_spread, farad_spread;
    } good[] = {
        {"6800,255p,5%", 6800, 255e-12, 0.05, 0.05},      {"6.8k,255pF,5", 6800, 255e-12, 0.05, 0.05},
        {"6k8,0.255n,1%,10%", 6800, 255e-12, 0.01, 0.10}, {"1M,1n5,0", 1e6, 1.5e-9, 0, 0},
        {"10kohm,1u,2.5%", 10e3, 1e-6, 0.025, 0.025},     {"4k7,100p,20", 4700, 100e-12, 0.2, 0.2},
    };
    for (size_t i = 0; i < sizeof good / sizeof good[0]; i++) {
        hy_rc rc = {0};
        diag.text[0] = '\0';
        cr_assert_eq(hy_rc_read(&rc, good[i].text, &diag), 0, "%s: %s", good[i].text, diag.text);
        cr_expect_float_eq(rc.ohm, good[i].ohm, 1e-9 * good[i].ohm, "%s: %g", good[i].text, rc.ohm);
        cr_expect_float_eq(rc.farad, good[i].farad, 1e-9 * good[i].farad, "%s: %g", good[i].text, rc.farad);
        cr_expect_float_eq(rc.ohm_spread, good[i].ohm_spread, 1e-12);
        cr_expect_float_eq(rc.farad_spread, good[i].farad_spread, 1e-12);
    }
    static const char *const bad[] = {"",           "6k8",         "6k8,255p",     "6k8,255p,",      "6k8,,5",
                                      "k8,255p,5",  "6k8k,1p,5",   "6k8,255p,95",  "6k8,255p,-1",    "0,255p,5",
                                      "6k8,0p,5",   "6 k8,255p,5", "6k8,255p,5%%", "6k8,255p,1,2,3", "6.8k8,255p,5",
                                      "6k8,255x,5", "6k8,255p,nan"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        hy_rc rc = {0};
        cr_expect_eq(hy_rc_read(&rc, bad[i], &diag), -1, "%s: %g ohm, %g F", bad[i], rc.ohm, rc.farad);
    }
}

static hy_rc usual(void)
{
    hy_rc rc = {.draws = 20000, .seed = 7};
    cr_assert_eq(hy_rc_defaults(&rc, &diag), 0, "%s", diag.text);
    cr_assert_eq(hy_rc_read(&rc, "10k,100p,0,0", &diag), 0);
    return rc;
}

Test(sweep, the_constant_says_how_it_is_known)
{
    hy_rc rc = usual();
    cr_expect(rc.k > 0 && rc.k_spread >= 0);
    cr_expect(strcmp(rc.k_known, "recalled") == 0 || strcmp(rc.k_known, "measured") == 0 ||
              strcmp(rc.k_known, "estimate") == 0);
    cr_assert_eq(hy_rc_read_constant(&rc, "2,0", &diag), 0);
    cr_expect_eq(rc.k, 2);
    cr_expect_str_eq(rc.k_known, "given");
    cr_expect_str_eq(rc.k_spread_known, "given");
    static const char *const bad[] = {"", "0", "-1", "1,", "1,95", "1,2,3", "x", "1e9"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        cr_expect_eq(hy_rc_read_constant(&rc, bad[i], &diag), -1, "%s", bad[i]);
    }
}

Test(sweep, without_spread_every_board_is_k_over_rc)
{
    hy_rc rc = usual();
    cr_assert_eq(hy_rc_read_constant(&rc, "0.5,0", &diag), 0);
    cr_assert_eq(hy_clocks_rc(&clocks, &rc, &diag), 0, "%s", diag.text);
    cr_assert_eq(clocks.count, 5);
    for (size_t i = 0; i < 5; i++) {
        cr_expect_float_eq(clocks.clock[i].hz, 0.5 / (10e3 * 100e-12), 1e-6);
    }
}

/* R alone, evenly likely within 20 %: the quantiles are known. */
Test(sweep, quantiles_of_one_spread)
{
    hy_rc rc = usual();
    cr_assert_eq(hy_rc_read_constant(&rc, "1,0", &diag), 0);
    rc.ohm_spread = 0.2;
    cr_assert_eq(hy_clocks_rc(&clocks, &rc, &diag), 0);
    const double middle = 1 / (10e3 * 100e-12);
    const double wanted[] = {middle / 1.2, middle / 1.18, middle, middle / 0.82, middle / 0.8};
    static const char *const labels[] = {"min", "5 %", "median", "95 %", "max"};
    for (size_t i = 0; i < 5; i++) {
        cr_expect_float_eq(clocks.clock[i].hz, wanted[i], 0.005 * wanted[i], "%s: %g, should be %g", labels[i],
                           clocks.clock[i].hz, wanted[i]);
        cr_expect_str_eq(clocks.clock[i].label, labels[i]);
    }
    cr_expect(clocks.clock[0].hz >= wanted[0] && clocks.clock[4].hz <= wanted[4],
              "nothing lies beyond the tolerance");
}

Test(sweep, the_seed_decides)
{
    hy_rc rc = usual();
    rc.ohm_spread = rc.farad_spread = 0.1;
    hy_sweep_clocks again = {NULL, 0};
    hy_sweep_clocks other = {NULL, 0};
    cr_assert_eq(hy_clocks_rc(&clocks, &rc, &diag), 0);
    cr_assert_eq(hy_clocks_rc(&again, &rc, &diag), 0);
    rc.seed = 8;
    cr_assert_eq(hy_clocks_rc(&other, &rc, &diag), 0);
    for (size_t i = 0; i < 5; i++) {
        cr_expect_eq(clocks.clock[i].hz, again.clock[i].hz);
        cr_expect_neq(clocks.clock[i].hz, other.clock[i].hz);
    }
    hy_clocks_free(&again);
    hy_clocks_free(&other);
}

static const char *table(const char *text)
{
    const char *path = scratch("dac.csv");
    FILE *file = fopen(path, "w");
    cr_assert_not_null(file);
    fputs(text, file);
    fclose(file);
    return path;
}

Test(sweep, a_boards_table)
{
    const char *path = table("code,hz\n0,0\n1,300k\n0x2,400000\n3,0.5M\n255,720kHz\n");
    cr_assert_eq(hy_clocks_dac(&clocks, path, 0, &diag), 0, "%s", diag.text);
    cr_assert_eq(clocks.count, 5);
    cr_expect_eq(clocks.clock[0].hz, 0);
    cr_expect_eq(clocks.clock[3].hz, 500e3);
    cr_expect_str_eq(clocks.clock[2].label, "0x2");
    hy_clocks_free(&clocks);
    cr_assert_eq(hy_clocks_dac(&clocks, path, 3, &diag), 0);
    cr_assert_eq(clocks.count, 3);
    cr_expect_str_eq(clocks.clock[0].label, "0");
    cr_expect_str_eq(clocks.clock[1].label, "0x2");
    cr_expect_str_eq(clocks.clock[2].label, "255");
    hy_clocks_free(&clocks);
    cr_assert_eq(hy_clocks_dac(&clocks, path, 9, &diag), 0);
    cr_expect_eq(clocks.count, 5);
}

Test(sweep, bad_tables_name_the_place)
{
    static const struct {
        const char *text, *says;
    } bad[] = {
        {"code,hz\n", "no rows"},       {"code;hz\n1;2\n", ":1:"},
        {"code,hz\n1,720q\n", ":2:3:"}, {"code,hz\n-1,720k\n", ":2:1:"},
        {"code,hz\n1,101M\n", ":2:3:"}, {"code,hz\n65536,1k\n", ":2:1:"},
        {"code,hz\n1,720k,5\n", ":2:"}, {"", ""},
        {"code,hz\n1,\n", ":2:3:"},
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        diag.text[0] = '\0';
        cr_expect_eq(hy_clocks_dac(&clocks, table(bad[i].text), 0, &diag), -1, "%s", bad[i].text);
        cr_expect_not_null(strstr(diag.text, bad[i].says), "%s does not say %s", diag.text, bad[i].says);
        hy_clocks_free(&clocks);
    }
    diag.text[0] = '\0';
    cr_expect_eq(hy_clocks_dac(&clocks, scratch("missing.csv"), 0, &diag), -1);
    cr_expect_not_null(strstr(diag.text, "missing.csv"));
}
