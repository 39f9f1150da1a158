#define _XOPEN_SOURCE 700 /* realpath */

#include "choices.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "number.h"

int hy_choice_number(const char *text, double low, double high, const char *option, double *value, hy_diag *diag)
{
    hy_decimal decimal;
    size_t n = strlen(text), used = hy_decimal_read(text, n, 0, &decimal);
    *value = used > 0 ? hy_decimal_double(&decimal, 0) : -1.0;
    if (used == 0 || used != n || !(*value >= low && *value <= high)) {
        return hy_fail(diag, "--%s %s: a number from %.9g to %.9g would be right", option, text, low, high);
    }
    return 0;
}

int hy_choice_whole(const char *text, double low, double high, const char *option, int *value, hy_diag *diag)
{
    double read;
    if (hy_choice_number(text, low, high, option, &read, diag) != 0) {
        return -1;
    }
    *value = (int)read;
    if ((double)*value != read) {
        return hy_fail(diag, "--%s %s: a whole number from %.9g to %.9g would be right", option, text, low, high);
    }
    return 0;
}

void hy_choices_start(hy_choices *choices)
{
    *choices = (hy_choices){.render = {.rate = 48000, .bits = 16, .tail_ps = INT64_C(50000000000)}};
}

int hy_choices_take(hy_choices *c, int option, const char *value, hy_diag *diag)
{
    hy_render_options *r = &c->render;
    int rate;
    double ms;
    switch (option) {
    case HY_CHOICE_OUTPUT:
        r->sound = value;
        return 0;
    case HY_CHOICE_RATE:
        if (hy_choice_whole(value, HYOID_RATE_MIN, HYOID_RATE_MAX, "rate", &rate, diag) != 0) {
            return -1;
        }
        r->rate = (uint32_t)rate;
        return 0;
    case HY_CHOICE_BITS:
        if (strcmp(value, "16") != 0 && strcmp(value, "24") != 0 && strcmp(value, "32") != 0) {
            return hy_fail(diag, "--bits %s: 16, 24 or 32 would be right", value);
        }
        r->bits = atoi(value);
        return 0;
    case HY_CHOICE_DITHER:
        r->dither = 1;
        return 0;
    case HY_CHOICE_TAIL:
        if (hy_choice_number(value, 0.0, 60000.0, "tail", &ms, diag) != 0) {
            return -1;
        }
        r->tail_ps = (int64_t)(ms * 1e9 + 0.5);
        return 0;
    case HY_CHOICE_PART:
        c->part = value;
        return 0;
    case HY_CHOICE_PINS:
        r->pins = value;
        return 0;
    case HY_CHOICE_LOG:
        r->log = value;
        return 0;
    case HY_CHOICE_LABELS:
        r->labels = value;
        return 0;
    case HY_CHOICE_PICTURE:
        r->picture = value;
        return 0;
    case HY_CHOICE_CHIP_RATE:
        r->chip_rate = 1;
        return 0;
    case HY_CHOICE_NO_IMAGES:
        r->no_images = 1;
        return 0;
    case HY_CHOICE_QUIET:
        c->quiet = 1;
        return 0;
    default:
        return hy_fail(diag, "unknown option");
    }
}

/* The place that a path means, whichever way it is spelled: links and folders resolved, the file itself need not be
 * there. Null if it can't be told (then opening it will tell why). */
static char *resolved(const char *path)
{
    char *whole = realpath(path, NULL);
    if (whole != NULL) {
        return whole;
    }
    const char *slash = strrchr(path, '/');
    char *head = slash == NULL ? strdup(".") : strndup(path, slash == path ? 1 : (size_t)(slash - path));
    char *folder = head != NULL ? realpath(head, NULL) : NULL;
    const char *name = slash != NULL ? slash + 1 : path;
    size_t size = folder != NULL ? strlen(folder) + strlen(name) + 2 : 0;
    whole = folder != NULL ? malloc(size) : NULL;
    if (whole != NULL) {
        snprintf(whole, size, "%s/%s", folder, name);
    }
    free(folder);
    free(head);
    return whole;
}

static int same_place(const char *a, const char *b)
{
    if (strcmp(a, b) == 0) {
        return 1;
    }
    if (strcmp(a, "-") == 0 || strcmp(b, "-") == 0) {
        return 0;
    }
    char *whole_a = resolved(a);
    char *whole_b = resolved(b);
    int same = whole_a != NULL && whole_b != NULL && strcmp(whole_a, whole_b) == 0;
    free(whole_a);
    free(whole_b);
    return same;
}

/* Writing two outputs to one place, or over an input, is a slip that would cost the user a file. */
int hy_choices_check(const hy_choices *c, const char *verb, const char *const *inputs, size_t input_count,
                     hy_diag *diag)
{
    const hy_render_options *r = &c->render;
    const char *const places[] = {r->sound, r->pins, r->log, r->labels, r->picture};
    const size_t count = sizeof places / sizeof places[0];
    int any = 0;
    for (size_t k = 0; k < input_count; k++) {
        if (inputs[k][0] == '\0') {
            return hy_fail(diag, "a file's name is empty");
        }
    }
    for (size_t i = 0; i < count; i++) {
        if (places[i] == NULL) {
            continue;
        }
        any = 1;
        if (places[i][0] == '\0') {
            return hy_fail(diag, "a file's name is empty");
        }
        for (size_t k = i + 1; k < count; k++) {
            if (places[k] != NULL && same_place(places[i], places[k])) {
                return hy_fail(diag, "%s is named for two outputs; two names would be right", places[i]);
            }
        }
        for (size_t k = 0; k < input_count; k++) {
            if (strcmp(places[i], "-") != 0 && same_place(places[i], inputs[k])) {
                return hy_fail(diag, "%s is the input and would be overwritten; another name would be right",
                               places[i]);
            }
        }
    }
    return any ? 0 : hy_fail(diag, "%s needs an output: -o FILE, --pins, --log, --labels or --picture", verb);
}
