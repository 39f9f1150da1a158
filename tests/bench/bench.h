/* What the parts of the benchmark tell each other. */
#ifndef BENCH_H
#define BENCH_H

#include <stddef.h>

#ifdef __cplusplus
extern "C" {
#endif

/* A thing to measure: works off about this many seconds of sound and returns how many it really were; 0 if it cannot. */
typedef double bench_work(double seconds, int variant);

/* speech.c: hyoid in its uses */
bench_work bench_chip_only, bench_stream, bench_single_clocks, bench_batch;
enum { PATH_720, PATH_713, PATH_44100, PATH_96000, PATH_GLIDE, PATH_TAP, PATH_FAULT, PATH_NO_IMAGES };
enum { CLOCKS_BARE, CLOCKS_PINS, CLOCKS_SOUND };
enum { BATCH_TOGETHER, BATCH_ALONE };
double bench_snapshot(void);                  /* microseconds for one save and one load */
double bench_copy(void);                      /* microseconds for one assignment of a stream */
size_t bench_blocks(double *us, size_t room); /* microseconds for each block of 64 frames at 48 kHz, one pass */
double bench_peak(void);                      /* loudest sample so far: proof that something was heard */

/* sid.cpp: a tune for three voices and the filter, through libsidplayfp's reSIDfp */
enum { SID_WHOLE, SID_ABSENT };
bench_work bench_sid;

/* process.c: a speech program, run as its users run it */
typedef struct bench_process {
    double sound;     /* seconds of it */
    double wall, cpu; /* seconds */
} bench_process;
/* name: espeak-ng or flite; text may be empty. 0 if it ran. */
int bench_speak(const char *name, const char *text, bench_process *result);

#ifdef __cplusplus
}
#endif

#endif
