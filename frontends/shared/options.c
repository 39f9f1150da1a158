#include "options.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

#include "text.h"

enum { OPTIONS_MAX = 64 }; /* `seen` has a bit for each */

void hy_options_start(hy_options *state, const hy_usage *usage, int argc, char **argv)
{
    *state = (hy_options){.usage = usage, .argc = argc, .argv = argv, .at = 1};
}

static int bad(hy_options *state)
{
    state->at = state->argc;
    return HY_OPTIONS_BAD;
}

/* "part, pins" as "part or --pins". */
static void print_near(const hy_near *near, char *out, size_t size)
{
    size_t used = 0;
    out[0] = '\0';
    for (const char *at = near->text; *at != '\0' && used < size;) {
        const size_t length = strcspn(at, ",");
        used += (size_t)snprintf(out + used, size - used, "%s%.*s", used > 0 ? " or --" : "", (int)length, at);
        at += length + strspn(at + length, ", ");
    }
}

static int unknown(hy_options *state, const char *argument, size_t length, hy_diag *diag)
{
    const hy_usage *usage = state->usage;
    const char *names[OPTIONS_MAX + 1] = {"help"};
    size_t count = 1;
    for (; usage->options[count - 1].name != NULL && count <= OPTIONS_MAX; count++) {
        names[count] = usage->options[count - 1].name;
    }
    int is_long = length > 2 && argument[1] == '-';
    hy_near near = hy_near_names(argument + 2, is_long ? length - 2 : 0, names, count);
    if (near.text[0] != '\0') {
        char text[2 * sizeof near.text];
        print_near(&near, text, sizeof text);
        hy_fail(diag, "unknown option %.*s of %s; did you mean --%s?", (int)length, argument, usage->verb, text);
    } else {
        hy_fail(diag, "unknown option %.*s of %s; `hyoid %s --help` lists them", (int)length, argument, usage->verb,
                usage->verb);
    }
    return bad(state);
}

/* `attached` is a value within the same argument, or null. */
static int take(hy_options *state, int index, const char *attached, hy_diag *diag)
{
    const hy_option *option = &state->usage->options[index];
    const char *verb = state->usage->verb;
    uint64_t bit = UINT64_C(1) << index;
    if (state->seen & bit) {
        hy_fail(diag, "option --%s of %s is given twice", option->name, verb);
        return bad(state);
    }
    state->seen |= bit;
    state->value = attached;
    if (option->value == NULL) {
        if (attached != NULL) {
            hy_fail(diag, "option --%s of %s takes no value, but has \"%s\"", option->name, verb, attached);
            return bad(state);
        }
    } else if (attached == NULL) {
        if (state->at >= state->argc) {
            hy_fail(diag, "option --%s of %s needs a value: --%s %s", option->name, verb, option->name,
                    option->value);
            return bad(state);
        }
        state->value = state->argv[state->at++];
    }
    return index;
}

static int long_option(hy_options *state, const char *argument, hy_diag *diag)
{
    size_t length = strcspn(argument, "=");
    const char *attached = argument[length] == '=' ? argument + length + 1 : NULL;
    for (int i = 0; i < OPTIONS_MAX && state->usage->options[i].name != NULL; i++) {
        const char *name = state->usage->options[i].name;
        if (strlen(name) == length - 2 && memcmp(name, argument + 2, length - 2) == 0) {
            return take(state, i, attached, diag);
        }
    }
    return unknown(state, argument, length, diag);
}

static int short_option(hy_options *state, const char *argument, hy_diag *diag)
{
    for (int i = 0; i < OPTIONS_MAX && state->usage->options[i].name != NULL; i++) {
        if (state->usage->options[i].letter != '\0' && state->usage->options[i].letter == argument[1]) {
            return take(state, i, argument[2] != '\0' ? argument + 2 : NULL, diag);
        }
    }
    return unknown(state, argument, strlen(argument), diag);
}

int hy_options_next(hy_options *state, hy_diag *diag)
{
    if (state->at >= state->argc) {
        return HY_OPTIONS_END;
    }
    const char *argument = state->argv[state->at++];
    if (state->operands_only || argument[0] != '-' || argument[1] == '\0') {
        state->value = argument;
        return HY_OPERAND;
    }
    if (strcmp(argument, "--") == 0) {
        state->operands_only = 1;
        return hy_options_next(state, diag);
    }
    if (strcmp(argument, "--help") == 0 || strcmp(argument, "-h") == 0) {
        return HY_OPTIONS_HELP;
    }
    return argument[1] == '-' ? long_option(state, argument, diag) : short_option(state, argument, diag);
}

int hy_options_each(const hy_usage *usage, int argc, char **argv, hy_options_take *take_one, void *user, int *status,
                    hy_diag *diag)
{
    hy_options state;
    hy_options_start(&state, usage, argc, argv);
    for (;;) {
        const int next = hy_options_next(&state, diag);
        if (next == HY_OPTIONS_END) {
            return 0;
        }
        if (next == HY_OPTIONS_HELP) {
            *status = hy_options_help(usage);
            return -1;
        }
        if (next == HY_OPTIONS_BAD || take_one(user, next, state.value, diag) != 0) {
            *status = hy_refuse(diag);
            return -1;
        }
    }
}

int hy_operand(const char **place, const char *value, const hy_usage *usage, const char *what, hy_diag *diag)
{
    if (*place != NULL) {
        return hy_fail(diag, "%s takes one %s; %s is a second one", usage->verb, what, value);
    }
    *place = value;
    return 0;
}

/* Prints text with every line after the first indented. */
static void print_lines(const char *text, int indent)
{
    for (; *text != '\0'; text++) {
        putchar(*text);
        if (*text == '\n') {
            printf("%*s", indent, "");
        }
    }
}

static int left_width(const hy_option *option)
{
    return (int)(strlen(option->name) + (option->value != NULL ? 1 + strlen(option->value) : 0));
}

int hy_options_help(const hy_usage *usage)
{
    printf("usage: hyoid %s ", usage->verb);
    for (const char *c = usage->synopsis; *c != '\0'; c++) {
        if (*c == '\n') {
            printf("\n       hyoid %s ", usage->verb);
        } else {
            putchar(*c);
        }
    }
    printf("\n\n%s\n\n", usage->text);
    int width = (int)strlen("help");
    for (const hy_option *option = usage->options; option->name != NULL; option++) {
        int own = left_width(option);
        width = own > width ? own : width;
    }
    for (const hy_option *option = usage->options; option->name != NULL; option++) {
        if (option->letter != '\0') {
            printf("  -%c, --", option->letter);
        } else {
            printf("      --");
        }
        printf("%s%s%s%*s", option->name, option->value != NULL ? " " : "",
               option->value != NULL ? option->value : "", width - left_width(option) + 2, "");
        print_lines(option->help, width + 10);
        putchar('\n');
    }
    printf("  -h, --help%*sprint this\n", width - 4 + 2, "");
    printf("\n%s\n", usage->examples);
    if (fflush(stdout) != 0 || ferror(stdout)) {
        hy_diag diag = {""};
        hy_fail(&diag, "standard output: %s", strerror(errno));
        return hy_refuse(&diag);
    }
    return 0;
}

int hy_refuse(const hy_diag *diag)
{
    fprintf(stderr, "hyoid: %s\n", diag->text);
    return 2;
}
