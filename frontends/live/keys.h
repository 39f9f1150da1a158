/* What keys stand for: commands, as text. */
#ifndef HY_KEYS_H
#define HY_KEYS_H

#include <stddef.h>

enum { HY_KEY_LEFT = 0x200000, HY_KEY_RIGHT, HY_KEY_UP, HY_KEY_DOWN, HY_KEY_BACKSPACE, HY_KEY_OTHER };
enum { HY_KEY_TAB = 9, HY_KEY_ENTER = 10, HY_KEY_ESCAPE = 27 };

enum { HY_GROUPS = 9, HY_GROUP_SIZE = 9 };

typedef struct hy_key {
    int key;
    const char *shown;   /* its name on the screen */
    const char *command; /* what it does; ending in a space: the rest is typed. Null: the screen itself does it */
    const char *what;    /* for help */
} hy_key;

extern const hy_key hy_keys[];
extern const size_t hy_key_count;

/* Null if the key means nothing. */
const hy_key *hy_key_find(int key);

/* The phoneme page: a letter chooses a group of sounds of one kind, a digit one of them. */
typedef struct hy_group {
    const char *name;
    char letter;
    signed char codes[HY_GROUP_SIZE]; /* -1: none */
} hy_group;

extern const hy_group hy_groups[HY_GROUPS];

#endif
