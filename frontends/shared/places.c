#define _XOPEN_SOURCE 700 /* realpath */

#include "places.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>

#include "partfile_fields.h"

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

/* Whether the output is one of the tables in a part's folder. */
static int in_part(const char *folder, const char *output)
{
    struct stat status;
    if (strcmp(folder, "-") == 0 || stat(folder, &status) != 0 || !S_ISDIR(status.st_mode)) {
        return 0;
    }
    hy_table_text tables[HY_TABLES];
    hy_default_tables(tables);
    for (int i = 0; i < HY_TABLES; i++) {
        char table[4096];
        int length = snprintf(table, sizeof table, "%s/%s", folder, tables[i].name);
        if (length > 0 && (size_t)length < sizeof table && same_place(output, table)) {
            return 1;
        }
    }
    return 0;
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
            if (inputs[k] != NULL && strcmp(outputs[i], "-") != 0 &&
                (same_place(outputs[i], inputs[k]) || in_part(inputs[k], outputs[i]))) {
                return hy_fail(diag, "%s is an input and would be overwritten; another name would be right",
                               outputs[i]);
            }
        }
    }
    return 0;
}

/* ---- endings ---- */

/* Whether the list, divided by spaces, holds the ending. */
static int holds(const char *list, const char *ending)
{
    const size_t n = strlen(ending);
    for (const char *at = list; *at != '\0';) {
        size_t length = strcspn(at, " ");
        if (length == n && strncasecmp(at, ending, n) == 0) {
            return 1;
        }
        at += length;
        at += *at == ' ';
    }
    return 0;
}

int hy_places_forms(const hy_place_form *forms, size_t count, hy_diag *diag)
{
    static const char known[] =
        ".wav .flac .ogg .oga .score .csv .json .html .htm .png .vcd .TextGrid .h .c .inc .sr .elf";
    for (size_t i = 0; i < count; i++) {
        const hy_place_form *f = &forms[i];
        const char *slash = f->path != NULL ? strrchr(f->path, '/') : NULL;
        const char *ending = f->path != NULL ? strrchr(slash != NULL ? slash : f->path, '.') : NULL;
        if (ending != NULL && holds(known, ending) && !holds(f->endings, ending)) {
            return hy_fail(diag, "--%s %s: %s is written there; a name that ends in %.*s would be right", f->option,
                           f->path, f->what, (int)strcspn(f->endings, " "), f->endings);
        }
    }
    return 0;
}
