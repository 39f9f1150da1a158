/* All levels a step up or down, with the recorder's gain to make up for it, sound nearly the same: only their steps' unevenness tells,
 * and the constants bend to that. No code can go back alone, so it is done for all at once, before constants are searched. */
#include <stdlib.h>

#include "fit_private.h"
#include "partfile_fields.h"

/* Shifts what sounds, within what the registers hold. */
static void shift(hyoid_part *part, int by)
{
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        hyoid_phoneme *p = &part->phoneme[code];
        uint8_t *const levels[] = {&p->va, &p->fa};
        const int most[] = {(int)hy_quantities[HY_VA].most, (int)hy_quantities[HY_FA].most};
        for (int i = 0; i < 2 && !p->pause; i++) {
            const int now = *levels[i], next = now + by;
            *levels[i] = (uint8_t)(now == 0 || next < 1 || next > most[i] ? now : next);
        }
    }
}

static int by_size(const void *a, const void *b)
{
    return *(const int *)a - *(const int *)b;
}

int hy_fit_levels_home(hy_fit *f, int free_form)
{
    int moved[2 * HYOID_PHONEMES], count = 0;
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        const hyoid_phoneme *now = &f->part.phoneme[code], *was = &f->prior->phoneme[code];
        const int steps[] = {now->va - was->va, now->fa - was->fa};
        for (int i = 0; i < 2; i++) {
            if (f->by_code_count[code] > 0 && !was->pause && (i == 0 ? was->va : was->fa) > 0) {
                moved[count++] = steps[i];
            }
        }
    }
    if (count == 0) {
        return 0;
    }
    qsort(moved, (size_t)count, sizeof *moved, by_size);
    const int by = moved[count / 2];
    if (by == 0) {
        return 0;
    }
    shift(&f->part, -by);
    return hy_fit_channel(f, free_form);
}
