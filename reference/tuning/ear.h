/* An ear that is not ours: a general speech recogniser with a closed grammar of words. */
#ifndef TUNING_EAR_H
#define TUNING_EAR_H

#include <stddef.h>
#include <stdint.h>

#include "say.h"

enum { EAR_RATE = 16000 };

typedef struct ear ear;

/* Null, after a message, if the recogniser's model can't be read. */
ear *ear_open(void);
void ear_close(ear *e);

/* One isolated word of words[0..count): a grammar that ear_hear can name. */
void ear_grammar(ear *e, const char *name, const char *const *words, size_t count);

/* The word understood, or "" for none; valid until the next call. sound: at EAR_RATE. Its silent ends are cut off, it is
 * brought to the level of speech samples, -26 dB of full scale, and stands in a quiet room: 0.15 s before and behind, white noise 48 dB below it,
 * the same each time. */
const char *ear_hear(ear *e, const char *grammar, const sound *s);

#endif
