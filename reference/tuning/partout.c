#include "partout.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "checks.h"
#include "partfile_fields.h"

static FILE *open_in(const char *folder, const char *name, const char *mode)
{
    char path[4096];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *file = fopen(path, mode);
    if (file == NULL) {
        perror(path);
        exit(2);
    }
    return file;
}

/* The first `count` fields of a line, which hold no quotes, and the rest. */
static char *split(char *line, char **fields, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        fields[i] = line;
        char *comma = strchr(line, ',');
        if (comma == NULL) {
            fprintf(stderr, "not a row of a part: %s\n", line);
            exit(2);
        }
        *comma = 0;
        line = comma + 1;
    }
    return line;
}

/* A source text without its quotes. Sources in our tables hold no doubled quotes. */
static char *bare(char *source)
{
    const size_t length = strlen(source);
    if (length >= 2 && source[0] == '"') {
        source[length - 1] = 0;
        return source + 1;
    }
    return source;
}

/* The nearest code to a published vowel's formant, or -1. */
static int published_code(const char *symbol, const char *quantity, double *target, double *hz)
{
    if (quantity[0] != 'f' || quantity[1] < '1' || quantity[1] > '3' || quantity[2] != 0) {
        return -1;
    }
    static const double low[3] = {200.0, 600.0, 1400.0}, span[3] = {650.0, 1900.0, 1700.0};
    const unsigned k = (unsigned)(quantity[1] - '1');
    for (size_t i = 0; i < VOWELS; i++) {
        if (strcmp(vowels[i].symbol, symbol) != 0) {
            continue;
        }
        int best = 0;
        double nearest = 1e9;
        for (int c = 0; c < (k == 1 ? 32 : 16); c++) {
            const double f = low[k] + span[k] * (k == 1 ? 8 * c + c / 4 : 17 * c) / 255.0;
            if (fabs(f - vowels[i].hz[k]) < nearest) {
                nearest = fabs(f - vowels[i].hz[k]);
                best = c;
                *hz = f;
            }
        }
        *target = vowels[i].hz[k];
        return best;
    }
    return -1;
}

static void write_phonemes(const hyoid_part *part, const char *from, const char *to, const char *by)
{
    FILE *in = open_in(from, "phonemes.csv", "r"), *out = open_in(to, "phonemes.csv", "w");
    char line[4096];
    if (fgets(line, sizeof line, in) != NULL) {
        fputs(line, out);
    }
    while (fgets(line, sizeof line, in) != NULL) {
        line[strcspn(line, "\r\n")] = 0;
        char *f[6]; /* code symbol quantity value unit confidence */
        char *source = split(line, f, 6);
        const int q = hy_quantity_find(f[2]);
        const unsigned code = (unsigned)strtoul(f[0], NULL, 0);
        if (q < 0 || code >= HYOID_PHONEMES) {
            fprintf(stderr, "not a row of a part: %s\n", f[0]);
            exit(2);
        }
        const uint8_t now = q == HY_DURATION ? 0 : *((const uint8_t *)&part->phoneme[code] + hy_quantities[q].offset);
        if (q == HY_DURATION || now == (uint8_t)atoi(f[3])) {
            fprintf(out, "%s,%s,%s,%s,%s,%s,%s\n", f[0], f[1], f[2], f[3], f[4], f[5], source);
            continue;
        }
        double target = 0.0, hz = 0.0;
        if (published_code(f[1], f[2], &target, &hz) == now) {
            fprintf(out,
                    "%s,%s,%s,%u,%s,published,\"F%c: men's mean of Peterson & Barney 1952, %.0f Hz, as the nearest "
                    "code (%.0f Hz); moved from %s to %u %s\"\n",
                    f[0], f[1], f[2], now, f[4], f[2][1], target, hz, f[3], now, by);
        } else {
            fprintf(out, "%s,%s,%s,%u,%s,fitted,\"moved from %s to %u %s; the value before: %s\"\n", f[0], f[1], f[2],
                    now, f[4], f[3], now, by, bare(source));
        }
    }
    fclose(in);
    fclose(out);
}

static void write_constants(const hyoid_part *part, const char *from, const char *to, const char *by)
{
    FILE *in = open_in(from, "constants.csv", "r"), *out = open_in(to, "constants.csv", "w");
    char line[4096];
    if (fgets(line, sizeof line, in) != NULL) {
        fputs(line, out);
    }
    while (fgets(line, sizeof line, in) != NULL) {
        line[strcspn(line, "\r\n")] = 0;
        char *f[4]; /* name value unit confidence */
        char *source = split(line, f, 4);
        size_t constant;
        if (hy_constant_find(f[0], &constant) < 0) {
            fprintf(stderr, "not a row of a part: %s\n", f[0]);
            exit(2);
        }
        const hy_constant *c = &hy_constants[constant];
        const char *bracket = strchr(f[0], '[');
        const size_t index = bracket != NULL ? (size_t)atoi(bracket + 1) : 0;
        const char *field = (const char *)part + c->offset;
        if (strncmp(f[0], "pulse[", 6) == 0 && index >= part->pulse_length) {
            continue;
        }
        char now[64];
        int same;
        if (c->kind == HY_KIND_REAL) {
            const double value = ((const double *)(const void *)field)[index];
            same = value == strtod(f[1], NULL);
            snprintf(now, sizeof now, "%.10g", value);
        } else if (c->kind == HY_KIND_STEP) {
            const int value = ((const int16_t *)(const void *)field)[index];
            same = value == atoi(f[1]);
            snprintf(now, sizeof now, "%d", value);
        } else {
            const uint32_t value = ((const uint32_t *)(const void *)field)[index];
            same = value == strtoul(f[1], NULL, 0);
            snprintf(now, sizeof now, "%u", value);
        }
        if (same) {
            fprintf(out, "%s,%s,%s,%s,%s\n", f[0], f[1], f[2], f[3], source);
        } else {
            fprintf(out, "%s,%s,%s,fitted,\"moved from %s to %s %s; the value before: %s\"\n", f[0], now, f[2], f[1],
                    now, by, bare(source));
        }
    }
    fclose(in);
    fclose(out);
}

void part_write(const hyoid_part *part, const char *from_folder, const char *to_folder, const char *by)
{
    mkdir(to_folder, 0777);
    write_phonemes(part, from_folder, to_folder, by);
    write_constants(part, from_folder, to_folder, by);
}
