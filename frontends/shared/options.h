/* Command-line options of a verb, from one declarative table: parsing, --help and the answer to a wrong option.
 *
 *     static const hy_option options[] = {
 *         {"rate", 0, "HZ", "sample rate of the output (default 48000)"},
 *         {"output", 'o', "FILE", "where to write; - is standard output"},
 *         {"dither", 0, NULL, "add triangular noise of one step"},
 *         {NULL, 0, NULL, NULL},
 *     };
 *     static const hy_usage usage = {"render", "INPUT -o OUT [options]", "What it does.", options, "Examples:\n..."};
 *
 *     hy_options state;
 *     hy_options_start(&state, &usage, argc, argv);
 *     for (;;) {
 *         switch (hy_options_next(&state, &diag)) {
 *         case 0: rate_text = state.value; break;      // index in the table
 *         case HY_OPERAND: input = state.value; break;
 *         case HY_OPTIONS_HELP: return hy_options_help(&usage);
 *         case HY_OPTIONS_BAD: return hy_refuse(&diag);
 *         case HY_OPTIONS_END: goto done;
 *         }
 *     }
 *
 * Accepted: --name value, --name=value, -o value, -oVALUE; options and operands in any order; `--` ends the options; a lone
 * `-` is an operand. --help and -h need no row. An option that is given twice is refused: one of the two was a slip. */
#ifndef HY_OPTIONS_H
#define HY_OPTIONS_H

#include <stdint.h>

#include "diag.h"

typedef struct hy_option {
    const char *name;  /* without the dashes; NULL ends the table (at most 64 rows) */
    char letter;       /* short form, or 0 */
    const char *value; /* what stands for the value in the help, or NULL for an option without one */
    const char *help;  /* one or more lines, separated by \n */
} hy_option;

typedef struct hy_usage {
    const char *verb;     /* as the user types it after `hyoid` */
    const char *synopsis; /* what may follow the verb; several forms are separated by \n */
    const char *text;     /* what the verb does; ends without a newline */
    const hy_option *options;
    const char *examples; /* printed last, as it stands; ends without a newline */
} hy_usage;

typedef struct hy_options {
    const char *value; /* the value of the option, or the operand, that hy_options_next has just returned */
    /* private */
    const hy_usage *usage;
    int argc, at, operands_only;
    char **argv;
    uint64_t seen;
} hy_options;

enum { HY_OPERAND = -1, HY_OPTIONS_END = -2, HY_OPTIONS_HELP = -3, HY_OPTIONS_BAD = -4 };

/* argv[0] is the verb and is skipped. */
void hy_options_start(hy_options *state, const hy_usage *usage, int argc, char **argv);

/* The index of the next option in the table, or one of the four above. */
int hy_options_next(hy_options *state, hy_diag *diag);

/* Prints the help on standard output; returns the exit status: 0, or 2 if it couldn't be written. */
int hy_options_help(const hy_usage *usage);

/* Prints "hyoid: TEXT" on standard error and returns 2, the exit status for bad usage and bad input. */
int hy_refuse(const hy_diag *diag);

#endif
