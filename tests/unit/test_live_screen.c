/* The screen of `hyoid live`, as cells. */
#include <criterion/criterion.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../../frontends/live/screen.h"
#include "live_stage.h"

static hy_cells cells;

/* A row as text, one byte a cell: what is not ASCII becomes its stand-in. */
static const char *row(int r)
{
    static char text[HY_CELLS_COLUMNS + 1];
    for (int k = 0; k < cells.columns; k++) {
        text[k] = hy_cells_ascii(cells.cell[r][k].point);
    }
    text[cells.columns] = '\0';
    return text;
}

static int has(const char *wanted)
{
    for (int r = 0; r < cells.rows; r++) {
        if (strstr(row(r), wanted) != NULL) {
            return 1;
        }
    }
    return 0;
}

static int paint(hy_view *view, int rows, int columns)
{
    int cursor;
    hy_cells_clear(&cells, rows, columns);
    hy_screen_draw(&cells, view, &cursor);
    return cursor;
}

static hy_view view_of(const hy_live_session *s)
{
    return (hy_view){.session = s, .device = "test device", .latency_ms = 15.0, .group = -1};
}

Test(live_screen, shows_what_there_is_at_80x24)
{
    hy_score *score;
    hy_live_session *s = stage("aa/250 iy uw pau", &score);
    command(s, "clock +12st");
    command(s, "level 2");
    command(s, "hold 80ms");
    sound(s, 9600);
    hy_view view = view_of(s);
    cr_assert_eq(paint(&view, 24, 80), -1);
    cr_assert(has("hyoid live  t.score  > playing"));
    cr_assert(has("latency 15 ms  0 xruns"));
    cr_assert(has("to test device, 48000 Hz"));
    cr_assert(has("1.4400 MHz  x 2.0000  +12.00 st  tempo x 2.00"));
    cr_assert(has("0  1 [2] 3"));
    cr_assert(has("hold 80 ms"));
    cr_assert(has("limiter on"));
    cr_assert(has("request low"));
    cr_assert(has("aa iy"));
    cr_assert(has("spectrogram, kHz"));
    cr_assert(has("#"), "a meter or a spectrum moves");
    command(s, "limiter off");
    view.xruns = 1;
    sound(s, 480);
    paint(&view, 24, 80);
    cr_assert(has("limiter BYPASSED"));
    cr_assert(has("1 xrun"));
    hy_live_session_free(s);
    hy_score_free(score);
}

Test(live_screen, phoneme_page_shows_each_code)
{
    hy_score *score;
    hy_live_session *s = stage(NULL, &score);
    hy_view view = view_of(s);
    view.phonemes = 1;
    view.group = 5;
    paint(&view, 24, 80);
    cr_assert(has(">f stops"));
    cr_assert(has("iy/103 iy/121 iy"));
    cr_assert(has("pau/47 pau    end"));
    cr_assert(has("a..i then 1..9"));
    hy_live_session_free(s);
}

Test(live_screen, help_lists_every_key_at_80x24)
{
    hy_score *score;
    hy_live_session *s = stage(NULL, &score);
    hy_view view = view_of(s);
    command(s, "help");
    paint(&view, 24, 80);
    cr_assert(has("space  play or pause"));
    cr_assert(has("q      quit"));
    cr_assert(has("headphones above all"));
    cr_assert(has("bypassed, nothing does."));
    hy_live_session_free(s);
}

Test(live_screen, a_long_prompt_shows_its_end)
{
    hy_score *score;
    hy_live_session *s = stage(NULL, &score);
    hy_view view = view_of(s);
    char text[300];
    memset(text, 'x', sizeof text - 1);
    memcpy(text + sizeof text - 5, "tide", 5);
    view.prompt = text;
    const int cursor = paint(&view, 24, 80);
    cr_assert_eq(cursor, 78);
    cr_assert_not_null(strstr(row(23), "xtide"));
    view.prompt = "w\xc3\xb6rd";
    cr_assert_eq(paint(&view, 24, 80), 6);
    hy_live_session_free(s);
}

/* Nothing is painted outside, whatever the size and page: the sanitizers watch. */
Test(live_screen, any_size)
{
    hy_score *score;
    hy_live_session *s = stage("aa/250 iy uw pau", &score);
    sound(s, 20000);
    for (int rows = 1; rows < 60; rows += rows < 30 ? 1 : 7) {
        for (int columns = 1; columns < 160; columns += columns < 20 ? 1 : 13) {
            for (int page = 0; page < 8; page++) {
                hy_view view = view_of(s);
                view.phonemes = page & 1;
                view.wave = page >> 1 & 1;
                s->help = page >> 2 & 1;
                view.prompt = columns % 2 ? NULL : "sweep 300k";
                paint(&view, rows, columns);
            }
        }
    }
    paint(&(hy_view){.session = s, .device = "", .group = -1}, 1000, 1000);
    cr_assert_eq(cells.rows, HY_CELLS_ROWS);
    cr_assert_eq(cells.columns, HY_CELLS_COLUMNS);
    hy_live_session_free(s);
    hy_score_free(score);
}

Test(live_screen, ascii_has_a_stand_in_for_everything_but_ipa)
{
    hy_score *score;
    hy_live_session *s = stage("aa/250 iy uw pau", &score);
    sound(s, 30000);
    for (int page = 0; page < 8; page++) {
        hy_view view = view_of(s);
        view.ascii = 1;
        view.phonemes = page & 1;
        view.wave = page >> 1 & 1;
        s->help = page >> 2 & 1;
        paint(&view, 40, 132);
        for (int r = 1; r < cells.rows - 1; r++) {
            for (int k = 0; k < cells.columns; k++) {
                const uint32_t point = cells.cell[r][k].point;
                cr_assert(point == '?' || hy_cells_ascii(point) != '?', "U+%04X has none", point);
            }
        }
    }
    hy_live_session_free(s);
    hy_score_free(score);
}
