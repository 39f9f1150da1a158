/* An ear that is not ours: a general speech recogniser with a closed grammar of words. */
#ifndef TUNING_EAR_H
#define TUNING_EAR_H

#include <stddef.h>
#include <stdint.h>

#include "say.h"

enum { EAR_RATE = 16000 };

typedef struct ear ear;

/* Null, after a message, if the recogniser's model can't be read. comparable: all of the model's states are scored, so that scores of
 * one sound under different grammars can be compared; twice as slow. */
ear *ear_open(int comparable);
void ear_close(ear *e);

/* One isolated word of words[0..count): a grammar that ear_hear can name. */
void ear_grammar(ear *e, const char *name, const char *const *words, size_t count);

/* The word understood, or "" for none; valid until the next call. sound: at EAR_RATE. It is padded with 0.3 s of noise of a few
 * steps at both ends, the same each time. *score, if not null: the log score of the best path. */
const char *ear_hear(ear *e, const char *grammar, const sound *s, int32_t *score);

#endif
