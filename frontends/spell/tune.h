/* Inflection: one of four levels for each code of a phrase. */
#ifndef HY_SPELL_TUNE_H
#define HY_SPELL_TUNE_H

#include "phrase.h"

/* `level`: where the voice is without accent. */
void hy_tune_phrase(hy_phrase *phrase, hy_tune tune, int level);

#endif
