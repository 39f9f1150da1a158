/* The pitch counter's periods, from steady voices. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "acoustics.h"
#include "grid.h"
#include "period.h"

enum { MOST = 4096, LENGTH = 1024, SHIFTS = 9 };
static const double CLEAR = 0.95;

typedef struct voice {
    unsigned code, level, f1; /* register at the middle of what was measured */
    int rests;                /* said twice: the register has come to rest */
    double period, sigma;
} voice;

/* F1's register in the middle of each item's last LENGTH samples, from the model's own walk; 0 if it moved within them. */
typedef struct walk {
    unsigned now[2];
} walk;

static void registers(const hyoid_part *part, const hy_material *m, walk *walks)
{
    hyoid_chip chip;
    if (hyoid_chip_init(&chip, part) != HYOID_OK) {
        return;
    }
    for (size_t i = 0; i < m->items; i++) {
        uint32_t ticks = m->onset[i + 1] - m->onset[i];
        uint32_t early = ticks > LENGTH ? ticks - LENGTH : 0;
        hyoid_chip_write(&chip, m->said[i].code);
        hyoid_chip_step(&chip, (uint64_t)early * part->filter_clocks);
        walks[i].now[0] = chip.r_f1;
        hyoid_chip_step(&chip, (uint64_t)(ticks - early) * part->filter_clocks);
        walks[i].now[1] = chip.r_f1;
    }
}

/* Voiced, said long enough, and with a level that did not change in the meantime. */
static size_t gather(const hyoid_part *part, const hy_material *m, const walk *walks, voice *voices)
{
    size_t n = 0;
    for (size_t i = 0; i < m->items && n < MOST; i++) {
        const hyoid_phoneme *p = &part->phoneme[m->said[i].code];
        uint32_t ticks = m->onset[i + 1] - m->onset[i];
        int same = i > 0 && m->said[i - 1].code == m->said[i].code && m->said[i - 1].level == m->said[i].level;
        if (p->va == 0 || p->pause || p->closure || (ticks < LENGTH + 64 && !same)) {
            continue;
        }
        unsigned level = m->said[i].level;
        double expected = part->pitch_period[level], clarity;
        double period = hy_period(m->sound, m->count, (long)m->onset[i + 1] - LENGTH, LENGTH, expected * 0.85,
                                  expected * 1.15 + 32, &clarity);
        if (clarity > CLEAR && abs((int)walks[i].now[1] - (int)walks[i].now[0]) < 8) {
            unsigned f1 = (walks[i].now[0] + walks[i].now[1] + 1) / 2;
            voices[n++] = (voice){m->said[i].code, level, f1, same, period, 0.02 + 0.5 * (1 - clarity)};
        }
    }
    return n;
}

static int ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double median(double *x, size_t n)
{
    qsort(x, n, sizeof *x, ascending);
    return n == 0 ? 0 : n % 2 ? x[n / 2] : 0.5 * (x[n / 2 - 1] + x[n / 2]);
}

/* How far the periods lie from whole numbers of a unit `scale`, given a shift; also fills in period and sigma. */
static double misfit(const voice *voices, size_t n, double scale, unsigned shift, hy_pitch_fit *fit)
{
    double x[MOST], total = 0;
    size_t all = 0;
    for (unsigned level = 0; level < HYOID_LEVELS; level++) {
        size_t k = 0;
        for (size_t i = 0; i < n; i++) {
            if (voices[i].level == level) {
                x[k++] = voices[i].period / scale - (voices[i].f1 >> shift);
            }
        }
        double middle = median(x, k);
        for (size_t i = 0; i < k; i++) {
            x[i] = fabs(x[i] - middle);
        }
        double deviation = median(x, k);
        fit->period[level] = middle;
        fit->used[level] = (unsigned)k;
        fit->sigma[level] = k > 1 ? 1.4826 * deviation / sqrt((double)k) : 1;
        total += deviation * (double)k;
        all += k;
    }
    return all > 0 ? 1.4826 * total / (double)all : 1e9;
}

/* How much longer a level's periods are than level 1's, and each code's own period at level 1: medians. A code's entry is NaN if it
 * was never heard at rest. */
static void read_codes(const voice *voices, size_t n, const double *period, const unsigned char *tied,
                       double *of_code)
{
    double x[MOST];
    for (unsigned c = 0; c < HYOID_PHONEMES; c++) {
        size_t k = 0;
        for (size_t i = 0; i < n; i++) {
            if (voices[i].code == c && voices[i].rests && tied[voices[i].level]) {
                x[k++] = voices[i].period - period[voices[i].level];
            }
        }
        of_code[c] = k > 0 ? median(x, k) : NAN;
    }
}

/* Levels that codes heard at rest tie to level `fixed`: one code's period at two levels tells what lies between these. */
static void tie(const voice *voices, size_t n, unsigned fixed, unsigned char tied[HYOID_LEVELS])
{
    enum { FEW = 3 };
    unsigned char heard[HYOID_LEVELS][HYOID_PHONEMES] = {{0}};
    for (size_t i = 0; i < n; i++) {
        heard[voices[i].level][voices[i].code] |= voices[i].rests != 0;
    }
    memset(tied, 0, HYOID_LEVELS);
    tied[fixed] = 1;
    for (unsigned pass = 0; pass < HYOID_LEVELS; pass++) {
        for (unsigned a = 0; a < HYOID_LEVELS; a++) {
            for (unsigned b = 0; b < HYOID_LEVELS; b++) {
                int both = 0;
                for (unsigned c = 0; c < HYOID_PHONEMES; c++) {
                    both += heard[a][c] && heard[b][c];
                }
                tied[a] |= tied[b] && both >= FEW;
            }
        }
    }
}

/* Reads the F1 codes off the periods. Levels' periods are known but for one common whole number, which the step between codes 7
 * and 8 (one more than the others) or the ends of the range betray; the codes that the part has decide where they don't. */
static void codes_of(const hyoid_part *part, const voice *voices, size_t n, hy_pitch_fit *fit)
{
    enum { OFF = 12, FEW = 12, PASSES = 60 };
    double own[HYOID_PHONEMES], whole[HYOID_LEVELS], best = 1e9;
    int at = 0, common = 0;
    memset(fit->f1, -1, sizeof fit->f1);
    if (fit->shift > 4) {
        return; /* steps between codes are too small */
    }
    /* levels against each other by codes heard at both, so that no code's register matters: alternately the codes' own
     * periods and the levels', until both stand; one level stays where it is */
    unsigned fixed = 0;
    for (unsigned level = 0; level < HYOID_LEVELS; level++) {
        whole[level] = round(fit->period[level]);
        fixed = fit->used[level] > fit->used[fixed] ? level : fixed;
    }
    unsigned char tied[HYOID_LEVELS];
    tie(voices, n, fixed, tied);
    for (unsigned level = 0; level < HYOID_LEVELS; level++) {
        fit->used[level] = tied[level] ? fit->used[level] : 0; /* it could be off by a step of F1 */
    }
    for (int pass = 0; pass < PASSES; pass++) {
        read_codes(voices, n, whole, tied, own);
        for (unsigned level = 0; level < HYOID_LEVELS; level++) {
            double x[MOST];
            size_t k = 0;
            for (size_t i = 0; i < n && level != fixed; i++) {
                if (voices[i].level == level && voices[i].rests && !isnan(own[voices[i].code])) {
                    x[k++] = voices[i].period - own[voices[i].code];
                }
            }
            whole[level] = k >= 3 ? median(x, k) : whole[level];
        }
    }
    for (unsigned level = 0; level < HYOID_LEVELS; level++) {
        whole[level] = round(whole[level]);
    }
    read_codes(voices, n, whole, tied, own);
    for (int off = -OFF; off <= OFF; off++) {
        double sum = 0;
        int known = 0;
        for (unsigned c = 0; c < HYOID_PHONEMES; c++) {
            if (isnan(own[c])) {
                continue;
            }
            double least = 1e9;
            for (unsigned code = 0; code < 16; code++) {
                double d = fabs(own[c] - off - (hy_register4((unsigned)code) >> fit->shift));
                d = d < 1 ? d : 1;
                d += 0.002 * abs((int)code - part->phoneme[c].f1);
                least = d < least ? d : least;
            }
            sum += least;
            known++;
        }
        if (known >= FEW && sum / known < best) {
            best = sum / known;
            common = off;
            at = 1;
        }
    }
    if (!at || best > 0.25) {
        return;
    }
    for (unsigned level = 0; level < HYOID_LEVELS; level++) {
        if (fit->used[level] >= 3) {
            fit->period[level] = whole[level] + common;
            fit->sigma[level] = 0.01;
        }
    }
    for (unsigned c = 0; c < HYOID_PHONEMES; c++) {
        for (unsigned code = 0; code < 16 && !isnan(own[c]); code++) {
            if (fabs(own[c] - common - (hy_register4((unsigned)code) >> fit->shift)) < 0.35) {
                fit->f1[c] = (signed char)code;
            }
        }
    }
}

void hy_pitch_measure(const hyoid_part *part, const hy_material *m, hy_pitch_fit *fit)
{
    memset(fit, 0, sizeof *fit);
    memset(fit->f1, -1, sizeof fit->f1);
    fit->shift = part->pitch_f1_shift;
    walk *walks = calloc(m->items + 1, sizeof *walks);
    voice *voices = malloc(MOST * sizeof *voices);
    if (walks != NULL && voices != NULL) {
        registers(part, m, walks);
        size_t n = gather(part, m, walks, voices);
        double best = 1e9;
        hy_pitch_fit tried = {0};
        for (unsigned shift = 0; shift < SHIFTS; shift++) {
            double off = misfit(voices, n, 1, shift, &tried);
            if (off < best * (shift == part->pitch_f1_shift ? 1.0001 : 0.9)) {
                best = off;
                fit->shift = shift;
            }
        }
        fit->spread = misfit(voices, n, 1, fit->shift, fit);
        /* the unit in which all levels' periods are whole */
        double least = 1e9, unit = 0;
        for (double s = 0.985; s < 1.015; s *= 1.00002) {
            double sum = 0, weight = 0;
            for (size_t i = 0; i < n; i++) {
                double x = voices[i].period / s, off = x - round(x), w = 1 / (voices[i].sigma * voices[i].sigma);
                sum += w * fmin(off * off, 0.04);
                weight += w;
            }
            if (weight > 0 && sum / weight < least) {
                least = sum / weight;
                unit = s;
            }
        }
        fit->scale = n >= 16 && least < 0.01 ? unit : 0;
        codes_of(part, voices, n, fit);
    }
    free(walks);
    free(voices);
}
