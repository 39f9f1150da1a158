#include "../spell/rules.h"
#include "keys.h"
#include "screen.h"

#include <math.h>

#define AXIS 5 /* columns for the scale at the left */

static const uint32_t shades[] = {' ', 0x2591, 0x2592, 0x2593, 0x2588};

void hy_screen_spectrogram(hy_cells *c, const hy_scope *scope, int top, int end)
{
    static const float steps[] = {-66.0F, -54.0F, -42.0F, -30.0F};
    static const hy_style styles[] = {HY_DIM, HY_DIM, HY_DIM, HY_PLAIN, HY_ACCENT};
    const int rows = end - top;
    for (int r = 0; r < rows; r++) {
        const int low = (rows - 1 - r) * HY_SCOPE_BANDS / rows, high = (rows - r) * HY_SCOPE_BANDS / rows;
        if (r % 2 == 0) {
            hy_cells_print(c, top + r, 0, HY_DIM, "%4.1f", high * HY_SCOPE_BAND_HZ / 1000.0);
        }
        for (int k = AXIS; k < c->columns - 1; k++) {
            float db = -120.0F;
            for (int b = low; b < high; b++) {
                db = fmaxf(db, hy_scope_band(scope, (unsigned)(c->columns - 2 - k), (unsigned)b));
            }
            int shade = 0;
            while (shade < 4 && db > steps[shade]) {
                shade++;
            }
            hy_cells_set(c, top + r, k, styles[shade], shades[shade]);
        }
    }
}

void hy_screen_wave(hy_cells *c, const hy_scope *scope, int top, int end)
{
    const int rows = end - top;
    hy_cells_put(c, top, 0, HY_DIM, " 1.0");
    hy_cells_put(c, top + rows / 2, 0, HY_DIM, " 0.0");
    hy_cells_put(c, end - 1, 0, HY_DIM, "-1.0");
    for (int k = AXIS; k < c->columns - 1; k++) {
        float low, high;
        hy_scope_wave(scope, (unsigned)(c->columns - 2 - k), &low, &high);
        for (int r = 0; r < rows; r++) {
            const double above = 1.0 - 2.0 * r / rows, below = 1.0 - 2.0 * (r + 1) / rows;
            const int middle = above >= 0.0 && below < 0.0;
            const int inside = (double)high > below && (double)low < above;
            const int loud = (high > 0.004F || low < -0.004F) && inside;
            hy_cells_set(c, top + r, k, loud ? HY_ACCENT : HY_DIM, loud ? 0x2588 : middle ? 0x2500 : ' ');
        }
    }
}

void hy_screen_phonemes(hy_cells *c, const hy_view *v, int top, int end)
{
    const int wide = c->columns >= 100 ? 10 : 7, left = 18;
    for (int i = 0; i < HY_GROUP_SIZE; i++) {
        hy_cells_print(c, top, left + wide * i, v->group >= 0 ? HY_BOLD : HY_DIM, "%d", i + 1);
    }
    for (int g = 0; g < HY_GROUPS && top + 1 + g < end; g++) {
        const hy_group *group = &hy_groups[g];
        const int row = top + 1 + g, chosen = v->group == g, other = v->group >= 0 && !chosen;
        hy_cells_print(c, row, 0, chosen ? HY_ACCENT : HY_DIM, chosen ? ">" : " ");
        hy_cells_print(c, row, 1, other ? HY_DIM : HY_BOLD, "%c", group->letter);
        hy_cells_put(c, row, 3, chosen ? HY_ACCENT : HY_DIM, group->name);
        for (int i = 0; i < HY_GROUP_SIZE; i++) {
            const int code = group->codes[i];
            if (code < 0) {
                continue;
            }
            const int sounds = v->session->status.phoneme == code;
            const hy_style style = sounds ? HY_MARKED : other ? HY_DIM : HY_PLAIN;
            const int k = hy_cells_put(c, row, left + wide * i, style, hy_code_name((unsigned)code).text);
            if (wide == 10 && !v->ascii && k <= left + wide * i + 7) {
                hy_cells_put(c, row, left + wide * i + 7, HY_DIM, hy_symbols[code].ipa);
            }
        }
    }
}

void hy_screen_help(hy_cells *c, int top, int end)
{
    static const char *const words[] = {
        "Caution: high clocks and sweeps can be loud and shrill. Start quietly, with",
        "headphones above all. The limiter holds peaks at -3 dB; bypassed, nothing does.",
        "The clock is the score's clock times what your keys have made of it."};
    size_t shown = 0;
    for (size_t i = 0; i < hy_key_count; i++) {
        shown += hy_keys[i].shown != NULL;
    }
    const int rows = (int)(shown + 1) / 2;
    int n = 0;
    for (size_t i = 0; i < hy_key_count; i++) {
        if (hy_keys[i].shown == NULL) {
            continue;
        }
        const int row = top + n % rows, column = 1 + n / rows * 39;
        if (row < end) {
            hy_cells_put(c, row, column, HY_BOLD, hy_keys[i].shown);
            hy_cells_put(c, row, column + 7, HY_PLAIN, hy_keys[i].what);
        }
        n++;
    }
    for (int i = 0; i < 3 && top + rows + 1 + i < end; i++) {
        hy_cells_put(c, top + rows + 1 + i, 1, i < 2 ? HY_WARN : HY_DIM, words[i]);
    }
    if (top + rows + 5 < end) {
        hy_cells_put(c, top + rows + 5, 1, HY_DIM,
                     "? or escape: back. `:help` commands stand in the manual, hyoid-live(1).");
    }
}
