/* What the parts of the dump reader share: vcd_read.c (the table of variables), vcd_header.c, vcd_changes.c. */
#ifndef HY_VCD_READ_PRIVATE_H
#define HY_VCD_READ_PRIVATE_H

#include "vcd_lex.h"
#include "vcd_read.h"

typedef enum hy_vcd_kind {
    HY_VCD_VALUE,     /* digits */
    HY_VCD_NUMBER,    /* a real */
    HY_VCD_PARAMETER, /* either: Icarus writes real parameters so */
    HY_VCD_TEXT
} hy_vcd_kind;

/* Names and long codes stand in one block of text, each with a NUL behind it; they are told by where they start. */
typedef struct hy_vcd_code {
    uint32_t text, length; /* of a code of three or more characters */
    uint32_t next;         /* with the same hash; NO_CODE ends the chain */
    uint32_t width;
    uint32_t var; /* the first that declares it */
    uint8_t kind, selected;
} hy_vcd_code;

typedef struct hy_vcd_entry {
    uint32_t name, scope, code;
    int32_t msb, lsb;
    int ranged;
} hy_vcd_entry;

typedef struct hy_vcd_scope {
    uint32_t name, parent;
    unsigned line;
} hy_vcd_scope;

#define HY_VCD_NONE UINT32_MAX

enum { HY_VCD_CODES = 94, HY_VCD_REAL_MAX = 80 };

struct hy_vcd_reader {
    hy_vcd_lex lex;
    hy_vcd_scope *scopes;
    uint32_t scope_count, scope_room, scope; /* the open one, or HY_VCD_NONE */
    hy_vcd_entry *vars;
    uint32_t var_count, var_room;
    hy_vcd_code *codes;
    uint32_t code_count, code_room;
    char *text;
    size_t text_used, text_room;
    uint32_t *heads; /* of the chains; a power of two */
    uint32_t head_count;
    uint32_t small[(1 + HY_VCD_CODES) * HY_VCD_CODES]; /* codes of one character, then of two */

    int64_t unit;  /* of the time scale, ps; for fs, the fs of it */
    int fine;      /* digits of a time that stand behind the picosecond: fs only */
    int has_scale; /* $timescale has been read */

    int64_t time, time_fine; /* the last stamp: in units and, with fs, the digits behind */
    int64_t first_ps, now_ps;
    unsigned value_line, value_column; /* of the value that is being told */
    char value[HY_VCD_WIDTH_MAX + 1];  /* its digits */
    size_t value_length;
};

/* As hy_vcd_reader_open, reading `chunk` bytes at once: for tests. */
hy_vcd_reader *hy_vcd_reader_open_by(FILE *in, const char *name, size_t chunk, hy_diag *diag);

/* vcd_header.c: the sections up to $enddefinitions. */
int hy_vcd_header(hy_vcd_reader *reader);

/* Passes over the section whose keyword stands in front, up to its $end. */
int hy_vcd_skip(hy_vcd_lex *lex);

/* The next word must be there. */
int hy_vcd_need(hy_vcd_lex *lex, const char *expected);

/* vcd_read.c: the table. */
int hy_vcd_text_add(hy_vcd_reader *reader, const char *text, size_t length); /* without a NUL; -1: too much */
uint32_t hy_vcd_code_find(const hy_vcd_reader *reader, const char *code, size_t length);
uint32_t hy_vcd_code_add(hy_vcd_reader *reader, const char *code, size_t length); /* HY_VCD_NONE on error */
hy_vcd_entry *hy_vcd_entry_add(hy_vcd_reader *reader);
int hy_vcd_scope_push(hy_vcd_reader *reader, const char *name, size_t length);

#endif
