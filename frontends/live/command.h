/* The commands of `hyoid live`, as text: lines of a script, what is typed at `:`, and what keys stand for. */
#ifndef HY_COMMAND_H
#define HY_COMMAND_H

#include <stdint.h>

#include "diag.h"

typedef enum hy_command_kind {
    HY_CMD_NONE, /* an empty line or a comment */
    HY_CMD_PLAY,
    HY_CMD_PAUSE,
    HY_CMD_TOGGLE, /* play or pause */
    HY_CMD_AGAIN,
    HY_CMD_SAY,    /* text: score */
    HY_CMD_STROBE, /* number: code */
    HY_CMD_WORD,   /* text: English */
    HY_CMD_HUSH,
    HY_CMD_BABBLE, /* on; number: seed, 0: any */
    HY_CMD_CLOCK,  /* value: Hz */
    HY_CMD_STEP,   /* value: factor */
    HY_CMD_NOMINAL,
    HY_CMD_SWEEP, /* value: Hz; span; exponential */
    HY_CMD_BACK,
    HY_CMD_ZERO, /* down to 0 or up again, in `span` */
    HY_CMD_LEVEL,
    HY_CMD_HOLD,        /* span; 0: off */
    HY_CMD_HOLD_STEP,   /* value: factor */
    HY_CMD_SUSTAIN,     /* on */
    HY_CMD_VOLUME,      /* value: dB */
    HY_CMD_VOLUME_STEP, /* value: dB */
    HY_CMD_LIMITER,     /* on */
    HY_CMD_RECORD,      /* on; text: file, or empty */
    HY_CMD_WAIT,        /* span, or 0: until nothing is being said */
    HY_CMD_STATUS,
    HY_CMD_HELP,
    HY_CMD_QUIT
} hy_command_kind;

enum { HY_TOGGLED = 2 }; /* for `on`: whichever it is not */

typedef struct hy_command {
    hy_command_kind kind;
    int number, on, exponential;
    double value;
    int64_t span; /* ps */
    int64_t at;   /* ps of stream time, or HY_SOON */
    char text[1024];
} hy_command;

/* 0, or -1: "found X; expected Y". */
int hy_command_read(const char *line, hy_command *command, hy_diag *diag);

/* The nearest code to a phoneme's name: symbol (its longest variant), symbol/ms or 0x code. -1 if there is none. */
int hy_command_code(const char *word);

/* The commands with what they do, one a line, for help. */
extern const char hy_command_help[];

#endif
