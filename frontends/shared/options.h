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
 *     static int take(void *user, int option, const char *value, hy_diag *diag)
 *     {
 *         request *r = user;
 *         switch (option) {
 *         case HY_OPERAND: return hy_operand(&r->input, value, &usage, "INPUT", diag);
 *         case RATE: return hy_value_whole(value, 8000, 192000, "rate", &r->rate, diag); // index in the table
 *         ...
 *     }
 *
 *     int status;
 *     if (hy_options_each(&usage, argc, argv, take, &r, &status, &diag) != 0) {
 *         return status;
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

/* Takes one option (its index in the table) with its value, or an operand (HY_OPERAND). 0, or -1 with the diagnosis. */
typedef int hy_options_take(void *user, int option, const char *value, hy_diag *diag);

/* Hands the whole command line to `take`, argument by argument; argv[0] is the verb and is skipped. 0: go on. -1: the verb is
 * over, and *status is what it returns: help was printed, or what was wrong has been said. */
int hy_options_each(const hy_usage *usage, int argc, char **argv, hy_options_take *take, void *user, int *status,
                    hy_diag *diag);

/* The one operand of a verb, called `what` in its synopsis; a second one is refused. 0, or -1. */
int hy_operand(const char **place, const char *value, const hy_usage *usage, const char *what, hy_diag *diag);

/* The same step by step, for a verb that must tidy up. argv[0] is skipped. */
void hy_options_start(hy_options *state, const hy_usage *usage, int argc, char **argv);

/* The index of the next option in the table, or one of the four above. */
int hy_options_next(hy_options *state, hy_diag *diag);

/* Prints the help on standard output; returns the exit status: 0, or 2 if it couldn't be written. */
int hy_options_help(const hy_usage *usage);

/* Prints "hyoid: TEXT" on standard error and returns 2, the exit status for bad usage and bad input. */
int hy_refuse(const hy_diag *diag);

#endif
