/* Isolated words, read out by the model or by another program, heard by a general speech recogniser with a closed grammar.
 *
 *   recognise [--part FOLDER] [--voice VOICE] [--level N] [--clock HZ] [--wrong] LIST...
 *   recognise [--part FOLDER] [--voice VOICE] [--wrong] --digits
 *
 * Each LIST (a word a line) is a grammar of its own. VOICE: hyoid (the default), espeak-ng, flite:rms, flite:kal16, flite:slt.
 * --digits: ten digits, five renderings each, at different inflections and clocks of 650 to 800 kHz (other voices: once).
 * --wrong: print each word that was misunderstood. Exit status 77: a tool is not installed (1 with CI set). */
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include <sndfile.h>

#include "ear.h"
#include "lexicon.h"
#include "partfile.h"
#include "say.h"
#include "wordlist.h"

typedef struct setting {
    unsigned level;
    double clock_hz;
} setting;

static const double pi = 3.14159265358979323846;
static const char *voice = "hyoid";
static const hyoid_part *part;
static int show_wrong;

/* --- speakers --- */

static void speak_hyoid(sound *out, const char *word, setting set)
{
    enum { PAUSE = 0x03 };
    uint8_t codes[WORD_CODES_MAX + 1];
    size_t count = word_codes(word, codes);
    if (count == 0) {
        fprintf(stderr, "%s: no pronunciation\n", word);
        exit(2);
    }
    codes[count++] = PAUSE;
    say(out, part, codes, count, set.level, set.clock_hz, EAR_RATE, 50.0);
}

/* Any rate to the ear's: a windowed sinc, 32 zero crossings each side, cut off at 0.45 of the lower rate. */
static void resample(sound *out, const float *in, size_t count, int rate)
{
    const double ratio = (double)rate / EAR_RATE, cut = rate > EAR_RATE ? 0.9 / ratio : 1.0, reach = 32.0 / cut;
    out->rate = EAR_RATE;
    out->count = (size_t)((double)count / ratio);
    out->frames = calloc(out->count + 1, sizeof *out->frames);
    for (size_t i = 0; i < out->count; i++) {
        const double at = (double)i * ratio;
        double sum = 0.0;
        for (long j = (long)ceil(at - reach); j <= (long)floor(at + reach); j++) {
            if (j >= 0 && j < (long)count) {
                const double x = (double)j - at, w = cos(0.5 * pi * x / reach);
                sum += in[j] * (x == 0.0 ? cut : sin(pi * cut * x) / (pi * x)) * w * w;
            }
        }
        out->frames[i] = (float)sum;
    }
}

static void speak_outside(sound *out, const char *word)
{
    char path[] = "/tmp/hyoid-voice-XXXXXX";
    const int file = mkstemp(path);
    if (file < 0) {
        perror(path);
        exit(2);
    }
    close(file);
    const pid_t child = fork();
    if (child == 0) {
        if (strncmp(voice, "flite:", 6) == 0) {
            execlp("flite", "flite", "-voice", voice + 6, "-t", word, "-o", path, (char *)NULL);
        } else {
            execlp(voice, voice, "-v", "en-us", "-w", path, word, (char *)NULL);
        }
        _exit(127);
    }
    int status = 0;
    waitpid(child, &status, 0);
    SF_INFO info = {0};
    SNDFILE *in = status == 0 ? sf_open(path, SFM_READ, &info) : NULL;
    if (in == NULL) {
        fprintf(stderr, "SKIP: %s can't be run\n", voice);
        unlink(path);
        exit(getenv("CI") != NULL ? 1 : 77);
    }
    float *frames = calloc((size_t)info.frames + 1, sizeof *frames);
    const sf_count_t count = sf_readf_float(in, frames, info.frames);
    sf_close(in);
    unlink(path);
    resample(out, frames, (size_t)count, info.samplerate);
    free(frames);
}

static int understood(ear *e, const char *grammar, const char *word, setting set)
{
    sound s = {0};
    if (strcmp(voice, "hyoid") == 0) {
        speak_hyoid(&s, word, set);
    } else {
        speak_outside(&s, word);
    }
    const char *heard = ear_hear(e, grammar, &s);
    const int right = strcmp(heard, word) == 0;
    if (show_wrong && !right) {
        printf("    %-14s heard as %s\n", word, heard[0] != 0 ? heard : "nothing");
    }
    sound_free(&s);
    return right;
}

/* --- the two kinds of run --- */

static int run_list(ear *e, const char *path, setting set, int *of)
{
    wordlist list = {0};
    wordlist_read(&list, path);
    ear_grammar(e, path, (const char *const *)list.words, list.count);
    int right = 0;
    for (size_t i = 0; i < list.count; i++) {
        right += understood(e, path, list.words[i], set);
    }
    const char *name = strrchr(path, '/');
    printf("%-12s %-24s level %u  %6.0f Hz  %3d of %zu\n", voice, name != NULL ? name + 1 : path, set.level,
           set.clock_hz, right, list.count);
    fflush(stdout);
    *of += (int)list.count;
    wordlist_free(&list);
    return right;
}

static void run_digits(ear *e)
{
    static const char *const digits[] = {"zero", "one", "two",   "three", "four",
                                         "five", "six", "seven", "eight", "nine"};
    static const setting settings[] = {{0, 720e3}, {1, 650e3}, {2, 685e3}, {3, 760e3}, {1, 800e3}};
    ear_grammar(e, "digits", digits, 10);
    const size_t renderings = strcmp(voice, "hyoid") == 0 ? 5 : 1;
    int right = 0;
    for (size_t s = 0; s < renderings; s++) {
        int here = 0;
        for (size_t i = 0; i < 10; i++) {
            here += understood(e, "digits", digits[i], settings[s]);
        }
        printf("%-12s %-24s level %u  %6.0f Hz  %3d of 10\n", voice, "digits", settings[s].level,
               settings[s].clock_hz, here);
        right += here;
    }
    printf("%-12s %-24s                    %3d of %zu\n", voice, "digits together", right, 10 * renderings);
}

int main(int argc, char **argv)
{
    setting set = {2, 720e3};
    int digits = 0;
    const char *folder = NULL;
    int i = 1;
    for (; i < argc && argv[i][0] == '-'; i++) {
        const char *value = i + 1 < argc ? argv[i + 1] : NULL;
        if (strcmp(argv[i], "--digits") == 0) {
            digits = 1;
        } else if (strcmp(argv[i], "--wrong") == 0) {
            show_wrong = 1;
        } else if (value != NULL && strcmp(argv[i], "--part") == 0) {
            folder = argv[++i];
        } else if (value != NULL && strcmp(argv[i], "--voice") == 0) {
            voice = argv[++i];
        } else if (value != NULL && strcmp(argv[i], "--level") == 0) {
            set.level = (unsigned)atoi(argv[++i]) & 3;
        } else if (value != NULL && strcmp(argv[i], "--clock") == 0) {
            set.clock_hz = atof(argv[++i]);
        } else {
            fprintf(stderr, "%s: no such option, or its value is missing (see the top of recognise.c)\n", argv[i]);
            return 2;
        }
    }
    hy_diag diag = {""};
    hy_partfile *file = folder != NULL ? hy_partfile_read(folder, &diag) : NULL;
    if (folder != NULL && file == NULL) {
        fprintf(stderr, "%s\n", diag.text);
        return 2;
    }
    part = file != NULL ? hy_partfile_part(file) : hyoid_part_default();
    ear *e = ear_open();
    if (e == NULL) {
        fprintf(stderr, "SKIP: the recogniser's en-us model is not installed (pocketsphinx-en-us)\n");
        return getenv("CI") != NULL ? 1 : 77;
    }
    if (digits) {
        run_digits(e);
    }
    int right = 0, of = 0;
    for (; i < argc; i++) {
        right += run_list(e, argv[i], set, &of);
    }
    if (of > 0) {
        printf("%-12s %-24s                    %3d of %d\n", voice, "words together", right, of);
    }
    ear_close(e);
    hy_partfile_free(file);
    return 0;
}
