/* Words to phones. front_flite.c does it with flite's front end and lexicon, front_none.c says that it can't. */
#ifndef HY_SPELL_FRONT_H
#define HY_SPELL_FRONT_H

#include "phrase.h"

typedef struct hy_front hy_front;

int hy_front_built_in(void);
hy_front *hy_front_new(hy_diag *diag);
void hy_front_free(hy_front *front);

/* Fills phrase->words and phrase->phones (id, stress, word, syllable) from phrase->said. */
int hy_front_phrase(hy_front *front, hy_phrase *phrase, hy_diag *diag);

#endif
