#include "wordlist.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

void wordlist_read(wordlist *list, const char *path)
{
    FILE *in = fopen(path, "r");
    if (in == NULL) {
        perror(path);
        exit(2);
    }
    char line[256];
    while (fgets(line, sizeof line, in) != NULL) {
        line[strcspn(line, "\r\n")] = 0;
        if (line[0] == 0) {
            continue;
        }
        list->words = realloc(list->words, (list->count + 1) * sizeof *list->words);
        char *word = strdup(line);
        if (list->words == NULL || word == NULL) {
            abort();
        }
        list->words[list->count++] = word;
    }
    fclose(in);
}

void wordlist_free(wordlist *list)
{
    for (size_t i = 0; i < list->count; i++) {
        free(list->words[i]);
    }
    free(list->words);
    *list = (wordlist){0};
}
