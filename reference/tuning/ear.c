#include "ear.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <pocketsphinx.h>

#define MODEL "/usr/share/pocketsphinx/model/en-us/"

struct ear {
    ps_decoder_t *decoder;
    cmd_ln_t *config;
    char word[128];
};

ear *ear_open(int comparable)
{
    ear *e = calloc(1, sizeof *e);
    if (e == NULL) {
        abort();
    }
    e->config = cmd_ln_init(NULL, ps_args(), TRUE, "-hmm", MODEL "en-us", "-dict", MODEL "cmudict-en-us.dict",
                            "-remove_silence", "no", "-remove_noise", "no", "-compallsen", comparable ? "yes" : "no",
                            "-logfn", "/dev/null", NULL);
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

const char *ear_hear(ear *e, const char *grammar, const sound *s, int32_t *score)
{
    enum { PAD = 3 * EAR_RATE / 10 };
    const size_t count = s->count + 2 * PAD;
    int16_t *samples = malloc(count * sizeof *samples);
    if (samples == NULL) {
        abort();
    }
    uint32_t random = 1;
    for (size_t i = 0; i < count; i++) {
        random = random * 1664525u + 1013904223u;
        const int noise = (int)(random >> 29) - 4 + (int)(random >> 26 & 7) - 3; /* -7..7, triangular */
        const double value = i >= PAD && i < PAD + s->count ? 32767.0 * (double)s->frames[i - PAD] : 0.0;
        const double sum = value + noise;
        samples[i] = (int16_t)(sum > 32767.0 ? 32767.0 : sum < -32768.0 ? -32768.0 : sum);
    }
    ps_set_search(e->decoder, grammar);
    ps_start_utt(e->decoder);
    ps_process_raw(e->decoder, samples, count, FALSE, TRUE);
    ps_end_utt(e->decoder);
    free(samples);
    int32 best = 0;
    const char *heard = ps_get_hyp(e->decoder, &best);
    snprintf(e->word, sizeof e->word, "%s", heard != NULL ? heard : "");
    if (score != NULL) {
        *score = best;
    }
    return e->word;
}
