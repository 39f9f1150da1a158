#include "ear.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <pocketsphinx.h>

#define MODEL "/usr/share/pocketsphinx/model/en-us/"

static const double SPEECH_RMS = 0.0501187; /* -26 dB of full scale, the usual level of speech samples (ITU-T P.56) */
static const double ROOM_RMS = 0.0002;      /* a quiet room */

struct ear {
    ps_decoder_t *decoder;
    cmd_ln_t *config;
    char word[128];
};

ear *ear_open(void)
{
    ear *e = calloc(1, sizeof *e);
    if (e == NULL) {
        abort();
    }
    e->config = cmd_ln_init(NULL, ps_args(), TRUE, "-hmm", MODEL "en-us", "-dict", MODEL "cmudict-en-us.dict",
                            "-remove_silence", "no", "-remove_noise", "no", "-logfn", "/dev/null", NULL);
    e->decoder = e->config != NULL ? ps_init(e->config) : NULL;
    if (e->decoder == NULL) {
        fprintf(stderr, "the recogniser's model can't be read: " MODEL "\n");
        ear_close(e);
        return NULL;
    }
    return e;
}

void ear_close(ear *e)
{
    if (e != NULL) {
        if (e->decoder != NULL) {
            ps_free(e->decoder);
        }
        if (e->config != NULL) {
            cmd_ln_free_r(e->config);
        }
        free(e);
    }
}

void ear_grammar(ear *e, const char *name, const char *const *words, size_t count)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    if (out == NULL) {
        abort();
    }
    fprintf(out, "#JSGF V1.0;\ngrammar words;\npublic <word> = ");
    for (size_t i = 0; i < count; i++) {
        fprintf(out, "%s%s", i > 0 ? " | " : "", words[i]);
    }
    fprintf(out, ";\n");
    fclose(out);
    if (ps_set_jsgf_string(e->decoder, name, text) != 0) {
        fprintf(stderr, "the recogniser refuses the grammar: %s\n", text);
        exit(2);
    }
    free(text);
}

/* Where a word begins and ends: the first and the last sample of a hundredth of its peak. */
static void bounds(const sound *s, size_t *begin, size_t *end)
{
    float peak = 0.0f;
    for (size_t i = 0; i < s->count; i++) {
        peak = fmaxf(peak, fabsf(s->frames[i]));
    }
    *begin = 0;
    *end = s->count;
    while (*begin < *end && fabsf(s->frames[*begin]) < 0.01f * peak) {
        ++*begin;
    }
    while (*end > *begin && fabsf(s->frames[*end - 1]) < 0.01f * peak) {
        --*end;
    }
}

const char *ear_hear(ear *e, const char *grammar, const sound *s)
{
    enum { PAD = EAR_RATE * 3 / 20 };
    size_t begin, end;
    bounds(s, &begin, &end);
    double power = 0.0;
    for (size_t i = begin; i < end; i++) {
        power += (double)s->frames[i] * s->frames[i];
    }
    const double gain = power > 0.0 ? 32768.0 * SPEECH_RMS / sqrt(power / (double)(end - begin)) : 0.0;
    const size_t count = end - begin + 2 * PAD;
    int16_t *samples = malloc(count * sizeof *samples);
    if (samples == NULL) {
        abort();
    }
    uint32_t random = 1;
    for (size_t i = 0; i < count; i++) {
        double noise = -1.0; /* the sum of two even draws, -1..1: rms 1 / sqrt 6 */
        for (int j = 0; j < 2; j++) {
            random = random * 1664525u + 1013904223u;
            noise += (double)random / 4294967296.0;
        }
        const double value = i >= PAD && i < count - PAD ? gain * (double)s->frames[begin + i - PAD] : 0.0;
        const double sum = floor(value + 32768.0 * ROOM_RMS * sqrt(6.0) * noise + 0.5);
        samples[i] = (int16_t)fmin(32767.0, fmax(-32768.0, sum));
    }
    ps_set_search(e->decoder, grammar);
    ps_start_utt(e->decoder);
    ps_process_raw(e->decoder, samples, count, FALSE, TRUE);
    ps_end_utt(e->decoder);
    free(samples);
    int32 score;
    const char *heard = ps_get_hyp(e->decoder, &score);
    snprintf(e->word, sizeof e->word, "%s", heard != NULL ? heard : "");
    return e->word;
}
