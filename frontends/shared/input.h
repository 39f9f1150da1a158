/* What a verb was given to play, whatever its form: a score or a write log becomes a write log. */
#ifndef HY_INPUT_H
#define HY_INPUT_H

#include <hyoid/hyoid.h>

#include "capture.h"
#include "diag.h"
#include "host.h"
#include "log.h"
#include "score.h"

typedef struct hy_input {
    hy_log *log;
    hy_score *score; /* of a score: kept, so that it can be played again (hy_host_play); else null */
    int from_score;  /* otherwise the log was read as it stands, and its end may lie before its last phoneme's */
    int sets_clock;  /* the input itself sets the clock at time 0, whatever the options say */
    int sets_level;  /* the same of inflection */
} hy_input;

/* Reads `path` ("-" is standard input): *.csv is a write log, *.score a score, anything else what its first line looks like.
 * A log without a clock row at 0 gets the options' clock, one without inflection theirs. 0, or -1. */
int hy_input_read(hy_input *input, const char *path, const hyoid_part *part, const hy_host_options *options,
                  hy_diag *diag);

/* The same; `map` is for an input that is a capture, or null; the note stays empty for one that is none. */
int hy_input_read_mapped(hy_input *input, const char *path, const char *map, const hyoid_part *part,
                         const hy_host_options *options, hy_capture_note *note, hy_diag *diag);
void hy_input_free(hy_input *input);

/* A line for each of --clock and --level that was given and had no effect, since the input sets the same at its start. */
void hy_input_tell_unused(const hy_input *input, const char *path, int clock_given, int level_given, FILE *out);

/* The file, or standard input for "-", as a stream that can be rewound (what can't is copied). `name` is for messages. Null on
 * error. */
FILE *hy_input_open(const char *path, const char *name, hy_diag *diag);

#endif
