/* Reading a value change dump (IEEE 1364-2005, clause 18, four-state form), in a stream: memory holds the table of
 * variables and a buffer, whatever the file's length.
 *
 *     hy_vcd_reader *reader = hy_vcd_reader_open(in, "x.vcd", diag);     // the header
 *     unsigned signal = hy_vcd_reader_select(reader, var);               // what is wanted
 *     hy_vcd_reader_run(reader, &listener, diag);                        // the changes, in the order of the file
 *     hy_vcd_reader_close(reader);
 *
 * Read strictly, the variables that nobody selected too: undeclared codes, decreasing times, values wider than their
 * variable, wrong digits, missing sections are errors that name their place. Read as they come: sections in any order,
 * $comment anywhere, unknown sections (passed over), any scope and variable types, ranges attached or apart, escaped
 * names, several names for one code, values before the first time stamp, no $date, no $dumpvars. */
#ifndef HY_VCD_READ_H
#define HY_VCD_READ_H

#include <stdint.h>
#include <stdio.h>

#include "diag.h"

enum { HY_VCD_VARS_MAX = 250000, HY_VCD_NAMES_MAX = 16 << 20, HY_VCD_WIDTH_MAX = 65536 };

#define HY_VCD_TIME_MAX (INT64_C(4000000) * INT64_C(1000000000000)) /* ps: 46 days, as a write log */

typedef struct hy_vcd_reader hy_vcd_reader;

/* One name of a signal, as the header declares it. */
typedef struct hy_vcd_var {
    const char
        *name; /* without scope and range, and without an escaped name's backslash; lives as long as the reader */
    unsigned signal;  /* the same for all names that share a code */
    unsigned width;   /* bits */
    int is_real;      /* its changes are numbers */
    int is_text;      /* a `string`: its changes are passed over */
    int ranged;       /* a range is declared: [msb:lsb], or [msb] with lsb the same */
    int32_t msb, lsb; /* without a range: width - 1 and 0 */
} hy_vcd_var;

/* A change, or a value restated ($dumpall and the like). */
typedef struct hy_vcd_change {
    int64_t ps; /* -1: ahead of the first time stamp */
    unsigned signal;
    unsigned width;
    uint64_t bits;      /* the low 64 bits, x and z as 0 */
    uint64_t unknown;   /* which of them are x or z */
    const char *digits; /* 0, 1, x, z as written, the highest first; hy_vcd_digit extends them. Null for a real */
    unsigned count;     /* of the digits, at most the width */
    double real;        /* may be NaN or infinite */
} hy_vcd_change;

/* Each may be null. A result other than 0 ends the reading with -1; the diagnosis is the listener's to fill. */
typedef struct hy_vcd_listener {
    void *user;
    int (*change)(void *user, const hy_vcd_change *change);
    int (*comment)(void *user, int64_t ps,
                   const char *text); /* its words, one space between them, at most 400 bytes */
} hy_vcd_listener;

/* Reads the header, up to $enddefinitions. `in` stays the caller's, `name` must live as long as the reader. Null on
 * error. */
hy_vcd_reader *hy_vcd_reader_open(FILE *in, const char *name, hy_diag *diag);
void hy_vcd_reader_close(hy_vcd_reader *reader);

/* Picoseconds from one time stamp to the next, at least 1. A timescale of fs has finer ones: its times are rounded to the
 * nearest picosecond (half of one up); all others are exact. */
int64_t hy_vcd_reader_step(const hy_vcd_reader *reader);

unsigned hy_vcd_reader_vars(const hy_vcd_reader *reader);
hy_vcd_var hy_vcd_reader_var(const hy_vcd_reader *reader, unsigned var);

/* Scope, name and range as a message shows them, such as "top.data[5:0]"; a long name loses its beginning, and bytes that
 * a line can't show become '?'. */
typedef struct hy_vcd_name {
    char text[160];
} hy_vcd_name;
hy_vcd_name hy_vcd_reader_name(const hy_vcd_reader *reader, unsigned var);

/* Whether `text` names the variable: 2 with all its scopes ("top.inner.clk"), 1 with some or none of them ("clk",
 * "inner.clk"), 0 no. A leading backslash in the text is passed over; `fold`: ASCII letters of either case. */
int hy_vcd_reader_matches(const hy_vcd_reader *reader, unsigned var, const char *text, size_t length, int fold);

/* The changes of this variable's signal shall be told. Returns the signal. */
unsigned hy_vcd_reader_select(hy_vcd_reader *reader, unsigned var);

/* Reads the changes to the end of the file. 0, or -1. Once only. */
int hy_vcd_reader_run(hy_vcd_reader *reader, const hy_vcd_listener *listener, hy_diag *diag);

/* First and last time stamp so far, ps; -1 while there is none. */
int64_t hy_vcd_reader_first(const hy_vcd_reader *reader);
int64_t hy_vcd_reader_last(const hy_vcd_reader *reader);

/* For listeners: "FILE:LINE:COLUMN: found WORD; expected ..." at the value that is being told. -1. */
int hy_vcd_reader_refuse(hy_vcd_reader *reader, const char *expected);

/* The digit ('0', '1', 'x' or 'z') of a bit, 0 the rightmost; bits beyond what is written extend the leftmost digit: 0 after
 * 0 and 1, x after x, z after z. */
char hy_vcd_digit(const hy_vcd_change *change, unsigned bit);

#endif
