#define _XOPEN_SOURCE 700 /* realpath */

#include "places.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

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

int hy_places_check(const char *const *outputs, size_t output_count, const char *const *inputs, size_t input_count,
                    hy_diag *diag)
{
    for (size_t k = 0; k < input_count; k++) {
        if (inputs[k] != NULL && inputs[k][0] == '\0') {
            return hy_fail(diag, "a file's name is empty");
        }
    }
    for (size_t i = 0; i < output_count; i++) {
        if (outputs[i] == NULL) {
            continue;
        }
        if (outputs[i][0] == '\0') {
            return hy_fail(diag, "a file's name is empty");
        }
        for (size_t k = i + 1; k < output_count; k++) {
            if (outputs[k] != NULL && same_place(outputs[i], outputs[k])) {
                return hy_fail(diag, "%s is named for two outputs; two names would be right", outputs[i]);
            }
        }
        for (size_t k = 0; k < input_count; k++) {
            if (inputs[k] != NULL && strcmp(outputs[i], "-") != 0 && same_place(outputs[i], inputs[k])) {
                return hy_fail(diag, "%s is an input and would be overwritten; another name would be right",
                               outputs[i]);
            }
        }
    }
    return 0;
}
