/* A WAV file of 32-bit float samples, one channel: the least that a player takes. */
#ifndef EXAMPLE_WAV_H
#define EXAMPLE_WAV_H

#include <stdint.h>
#include <stdio.h>
#include <string.h>

static inline void wav_number(FILE *file, uint32_t value, int bytes)
{
    for (int i = 0; i < bytes; i++) {
        fputc((int)(value >> (8 * i) & 255u), file);
    }
}

/* Writes the head for `count` samples at `rate` Hz; the samples follow through wav_samples. */
static inline void wav_head(FILE *file, uint32_t rate, uint32_t count)
{
    fputs("RIFF", file);
    wav_number(file, 36 + 4 * count, 4);
    fputs("WAVEfmt ", file);
    wav_number(file, 16, 4);
    wav_number(file, 3, 2); /* float */
    wav_number(file, 1, 2); /* channels */
    wav_number(file, rate, 4);
    wav_number(file, 4 * rate, 4);
    wav_number(file, 4, 2);
    wav_number(file, 32, 2);
    fputs("data", file);
    wav_number(file, 4 * count, 4);
}

static inline void wav_samples(FILE *file, const float *samples, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        uint32_t bits;
        memcpy(&bits, &samples[i], 4);
        wav_number(file, bits, 4);
    }
}

#endif
