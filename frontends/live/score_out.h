/* A write log as a score: what a person would write to have it said like that. Played again it strobes each phoneme at the
 * same picosecond; a glide comes back as a glide, whose pieces the host lays out anew, so that while the clock moves an
 * edge may fall elsewhere by what a chord differs from its arc. */
#ifndef HY_SCORE_OUT_H
#define HY_SCORE_OUT_H

#include <stdio.h>

#include <hyoid/hyoid.h>

#include "log.h"

/* Single pins become phonemes (at a rising strobe) and levels. 0, or -1: not enough memory, or the log can't be read. */
int hy_score_write(hy_log *log, const hyoid_part *part, FILE *out, hy_diag *diag);

#endif
