/* Words of a value change dump, one after the other from a stream of any length, with the place of each for messages.
 * Private to the reader of vcd_read.h.
 *
 * Words are separated by spaces, tabs and line ends (LF, CR LF; also VT and FF). Any other control character is refused
 * wherever it stands: a dump is text. */
#ifndef HY_VCD_LEX_H
#define HY_VCD_LEX_H

#include <stddef.h>
#include <stdio.h>

#include "diag.h"

enum { HY_VCD_WORD_MAX = 128 * 1024 };

typedef struct hy_vcd_lex {
    FILE *in;
    const char *name;
    hy_diag *diag;
    /* the word that stands in front; valid until the next one is fetched */
    const char *word;
    size_t length;
    unsigned line;
    /* private */
    char *buffer;     /* what is in it ends with a NUL, at which every scan stops */
    size_t chunk;     /* bytes that are read at once, 1 to HY_VCD_CHUNK */
    char *at, *end;   /* not yet looked at */
    char *counted;    /* columns of the present line are counted up to here, */
    unsigned columns; /* and so many are they */
    int eof;
} hy_vcd_lex;

enum { HY_VCD_CHUNK = 128 * 1024 };

/* 0, or -1 if memory is out. `chunk`: 0 for the default. A byte order mark is passed over. */
int hy_vcd_lex_start(hy_vcd_lex *lex, FILE *in, const char *name, size_t chunk, hy_diag *diag);
void hy_vcd_lex_stop(hy_vcd_lex *lex);

/* Fetches the next word. 1, 0 at the end of the file, or -1 with the diagnosis filled. */
int hy_vcd_lex_next(hy_vcd_lex *lex);

int hy_vcd_lex_is(const hy_vcd_lex *lex, const char *word);

/* Column of the word in front, from 1. */
unsigned hy_vcd_lex_column(hy_vcd_lex *lex);

/* "FILE:LINE:COLUMN: found WORD; expected ...", for the word in front; at the end of the file for that. -1. */
int hy_vcd_lex_wrong(hy_vcd_lex *lex, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* The same `skip` bytes into the word, and with what was found in the caller's words. */
int hy_vcd_lex_fail(hy_vcd_lex *lex, size_t skip, const char *format, ...) __attribute__((format(printf, 3, 4)));

#endif
