/* A list of words, one a line. */
#ifndef TUNING_WORDLIST_H
#define TUNING_WORDLIST_H

#include <stddef.h>

typedef struct wordlist {
    char **words;
    size_t count;
} wordlist;

/* Appends the file's words. Ends the program with a message if it can't be read. */
void wordlist_read(wordlist *list, const char *path);
void wordlist_free(wordlist *list);

#endif
