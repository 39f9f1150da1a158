/* The chart as one page: the vowels in their plane, and a small spectrogram of each code. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "measure/grid.h"
#include "measure/held.h"
#include "partfile_fields.h"
#include "rows.h"
#include "vowels.h"

/* The page prints on A4. */
enum { WIDTH = 1600, HEIGHT = 2260 };
enum {
    TILES_ACROSS = 8,
    TILE_X = 78,
    TILE_Y = 868,
    TILE_STEP_X = 190,
    TILE_STEP_Y = 169,
    TILE_W = 176,
    TILE_H = 110
};
enum { SOUND_RATE = 22050 };
#define SHOWN_MS 300.0
#define TOP_HZ 8000.0
#define SCALE_HEIGHT 140

static const hy_box plane = {90, 130, 800, 620};

static int make_tile(hy_grid *tile, const hyoid_part *part, unsigned code, hy_diag *diag)
{
    hy_held sound;
    const hy_hold_how how = {.level = 1, .rate = SOUND_RATE, .ms = SHOWN_MS, .from_start = 1};
    if (hy_hold(&sound, part, code, &how, diag) != 0) {
        return -1;
    }
    int status = hy_grid_make(tile, TILE_W, TILE_H, TOP_HZ, sound.frames, sound.count, sound.rate);
    hy_held_free(&sound);
    return status == 0 ? 0 : hy_fail(diag, "out of memory");
}

static void caption(cairo_t *cr, const hy_chart_row *r, unsigned code, double x, double y)
{
    char text[96];
    double at = x;
    hy_text(cr, at, y, 0, 16, 1, HY_INK, r->symbol->symbol);
    at += hy_text_width(cr, 16, 1, r->symbol->symbol) + 8;
    if (r->symbol->ipa[0] != '\0' && hy_text_possible(cr, 14, r->symbol->ipa)) {
        snprintf(text, sizeof text, "[%s]", r->symbol->ipa);
        hy_text(cr, at, y, 0, 14, 0, HY_INK, text);
    }
    snprintf(text, sizeof text, "0x%02x  %.8s ms", code, r->ms);
    hy_text(cr, x + TILE_W, y, 1, HY_NORMAL, 0, HY_SOFT, text);
    const hy_measured *m = &r->measured;
    if (!isfinite(m->level_db)) {
        snprintf(text, sizeof text, m->settled ? "silent" : "never settles");
    } else if (isfinite(m->f1) && isfinite(m->f2) && isfinite(m->f3)) {
        snprintf(text, sizeof text, "%.0f  %.0f  %.0f", m->f1, m->f2, m->f3);
    } else {
        snprintf(text, sizeof text, "gravity %.0f", m->gravity_hz);
    }
    hy_text(cr, x, y + 16, 0, HY_NORMAL, 0, HY_SOFT, text);
    if (isfinite(m->level_db)) {
        snprintf(text, sizeof text, "%s%.0f dB", m->level_db < -0.5 ? "\u2212" : "", fabs(m->level_db));
        hy_text(cr, x + TILE_W, y + 16, 1, HY_NORMAL, 0, HY_SOFT, text);
    }
}

static void draw_tile(cairo_t *cr, const hy_chart *chart, const hy_grid *tile, unsigned code, double most)
{
    const hyoid_part *part = hy_partfile_part(chart->file);
    double x = TILE_X + (int)(code % TILES_ACROSS) * TILE_STEP_X;
    double y = TILE_Y + (int)(code / TILES_ACROSS) * TILE_STEP_Y;
    caption(cr, &chart->row[code], code, x, y - 24);
    hy_grid_paint(cr, tile, x, y, most);
    hy_set_colour(cr, HY_RULE, 1);
    cairo_set_line_width(cr, 1);
    cairo_rectangle(cr, x - 0.5, y - 0.5, TILE_W + 1, TILE_H + 1);
    cairo_stroke(cr);
    double over = 1000 * part->phoneme[code].duration / hy_cycle_hz(part);
    if (over < SHOWN_MS) {
        hy_set_colour(cr, HY_FLAG, 1);
        cairo_rectangle(cr, floor(x + TILE_W * over / SHOWN_MS), y, 1, TILE_H);
        cairo_fill(cr);
    }
    if (code % TILES_ACROSS == 0) {
        for (int khz = 0; khz <= 8; khz += 4) {
            char text[8];
            snprintf(text, sizeof text, "%d", khz);
            double line = y + TILE_H * (1 - khz * 1000 / TOP_HZ);
            hy_text(cr, x - 7, line + (khz == 0 ? 1 : khz == 8 ? 9 : 4), 1, HY_SMALL, 0, HY_SOFT, text);
        }
        hy_text(cr, x - 22, y + TILE_H / 2.0 + 4, 1, HY_SMALL, 0, HY_SOFT, "kHz");
    }
    if (code / TILES_ACROSS == HYOID_PHONEMES / TILES_ACROSS - 1) {
        hy_text(cr, x, y + TILE_H + 14, 0, HY_SMALL, 0, HY_SOFT, "0");
        hy_text(cr, x + TILE_W, y + TILE_H + 14, 1, HY_SMALL, 0, HY_SOFT, "300 ms");
    }
}

static void head(cairo_t *cr, const hy_chart *chart)
{
    char text[600];
    const hyoid_part *part = hy_partfile_part(chart->file);
    snprintf(text, sizeof text, "fingerprint %016llx  \u00b7  %.10g kHz", (unsigned long long)hyoid_part_hash(part),
             part->nominal_hz / 1000);
    double used = hy_text_width(cr, HY_STRONG, 0, text);
    hy_text(cr, WIDTH - 40, 44, 1, HY_STRONG, 0, HY_SOFT, text);
    snprintf(text, sizeof text, "The 64 codes of %.400s", chart->part != NULL ? chart->part : "the built-in part");
    char *clean = hy_text_clean(text);
    hy_text_within(cr, 40, 44, 22, 1, HY_INK, clean != NULL ? clean : "The 64 codes", WIDTH - 120 - used);
    free(clean);
    if (strcmp(chart->note, hy_default_part_note) == 0) {
        hy_text_within(cr, 40, 72, HY_STRONG, 0, HY_FLAG, chart->note, WIDTH - 80);
    }
}

static void paragraph(cairo_t *cr, double *y, int bold, const char *const *lines)
{
    for (; *lines != NULL; lines++) {
        hy_text(cr, 1000, *y, 0, bold ? 16 : HY_STRONG, bold, HY_INK, *lines);
        *y += bold ? 26 : 19;
    }
    *y += 10;
}

static void shade_scale(cairo_t *cr, double y)
{
    for (int i = 0; i < SCALE_HEIGHT; i++) {
        hy_set_colour(cr, hy_shade(1 - i / (SCALE_HEIGHT - 1.0)), 1);
        cairo_rectangle(cr, 1000, y + i, 16, 1);
        cairo_fill(cr);
    }
    hy_set_colour(cr, HY_RULE, 1);
    cairo_set_line_width(cr, 1);
    cairo_rectangle(cr, 999.5, y - 0.5, 17, SCALE_HEIGHT + 1);
    cairo_stroke(cr);
    for (int db = 0; db <= (int)HY_SHADE_RANGE_DB; db += 20) {
        char text[64];
        snprintf(text, sizeof text, db == 0 ? "0 dB: the strongest of all codes" : "\u2212%d", db);
        hy_text(cr, 1026,
                y + SCALE_HEIGHT * db / HY_SHADE_RANGE_DB +
                    (db == 0    ? 9
                     : db == 60 ? 0
                                : 4),
                0, HY_NORMAL, 0, HY_SOFT, text);
    }
}

static void legend(cairo_t *cr)
{
    static const char *const vowels[] = {"Vowels", NULL};
    static const char *const keys[] = {
        "      this part, measured on its sound (Burg)", "      means of men, Peterson & Barney 1952;",
        "      shaded: one standard deviation of the", "      speakers; line: iy, ae, aa, uw", NULL};
    static const char *const variants[] = {"Codes that differ in duration alone stand at one",
                                           "place and are named once.", NULL};
    static const char *const codes[] = {"The 64 codes", NULL};
    static const char *const how[] = {"Each is strobed once, after silence, at inflection",
                                      "level 1 and the nominal clock, and goes on sounding.",
                                      "The red line is where its time is over and request",
                                      "rises. Under the symbol: measured F1, F2, F3, or,",
                                      "where noise or silence leaves none, the centre of",
                                      "gravity, in Hz; the level in dB of full scale. Both",
                                      "are those of the held sound.",
                                      "The spectrum is raised by 6 dB an octave.",
                                      NULL};
    double y = 150;
    paragraph(cr, &y, 1, vowels);
    double first = y - 10;
    y = first;
    hy_set_colour(cr, HY_INK, 1);
    cairo_arc(cr, 1008, y - 5, 4, 0, 2 * 3.14159265358979323846);
    cairo_fill(cr);
    hy_set_colour(cr, HY_WARM, 1);
    cairo_set_line_width(cr, 1.6);
    cairo_arc(cr, 1008, y + 14, 5, 0, 2 * 3.14159265358979323846);
    cairo_stroke(cr);
    paragraph(cr, &y, 0, keys);
    paragraph(cr, &y, 0, variants);
    y += 14;
    paragraph(cr, &y, 1, codes);
    y -= 10;
    paragraph(cr, &y, 0, how);
    shade_scale(cr, y + 6);
}

static int draw(cairo_t *cr, const hy_chart *chart, hy_diag *diag)
{
    hy_vowel vowels[HY_VOWELS];
    hy_grid *tiles = calloc(HYOID_PHONEMES, sizeof *tiles);
    int status = tiles != NULL ? hy_vowels_read(vowels, diag) : hy_fail(diag, "out of memory");
    double most = 0;
    for (unsigned code = 0; status == 0 && code < HYOID_PHONEMES; code++) {
        status = make_tile(&tiles[code], hy_partfile_part(chart->file), code, diag);
        most = status == 0 ? fmax(most, hy_grid_most(&tiles[code])) : 0;
    }
    if (status == 0) {
        head(cr, chart);
        hy_draw_vowels(cr, chart, vowels, plane);
        legend(cr);
        for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
            draw_tile(cr, chart, &tiles[code], code, most);
        }
    }
    for (unsigned code = 0; tiles != NULL && code < HYOID_PHONEMES; code++) {
        hy_grid_free(&tiles[code]);
    }
    free(tiles);
    return status;
}

int hy_chart_picture(const hy_chart *chart, const char *path, hy_diag *diag)
{
    hy_outfile *out = hy_outfile_open(path, diag);
    cairo_t *page = out != NULL ? hy_page_new(WIDTH, HEIGHT) : NULL;
    int status = -1;
    if (page != NULL) {
        status = draw(page, chart, diag);
        status = status == 0 ? hy_page_write(page, out, diag) : status;
        cairo_destroy(page);
    } else if (out != NULL) {
        hy_fail(diag, "cannot draw %s: out of memory", path);
    }
    if (status != 0) {
        hy_outfile_abandon(out);
        return -1;
    }
    return hy_outfile_commit(out, diag);
}
