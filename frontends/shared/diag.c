#include "diag.h"

#include <stdio.h>
#include <string.h>

static void fill(hy_diag *diag, const char *prefix, const char *format, va_list args)
{
    if (diag->text[0] != '\0') {
        return;
    }
    int used = snprintf(diag->text, sizeof diag->text, "%s", prefix);
    if (used < 0 || (size_t)used >= sizeof diag->text) {
        used = (int)sizeof diag->text - 1;
    }
    vsnprintf(diag->text + used, sizeof diag->text - (size_t)used, format, args);
    for (char *c = diag->text; *c != '\0'; c++) {
        if ((unsigned char)*c < 0x20 || *c == 0x7f) {
            *c = '?';
        }
    }
}

int hy_fail(hy_diag *diag, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    fill(diag, "", format, args);
    va_end(args);
    return -1;
}

int hy_fail_at(hy_diag *diag, const char *file, unsigned line, unsigned column, const char *format, ...)
{
    char where[300];
    const size_t length = strlen(file), most = sizeof where - sizeof "...:4294967295:4294967295: ";
    if (length <= most) {
        snprintf(where, sizeof where, "%s:%u:%u: ", file, line, column);
    } else { /* the place is worth more than the folders */
        const char *end = file + length - most;
        while (((unsigned char)*end & 0xc0) == 0x80) {
            end++;
        }
        snprintf(where, sizeof where, "...%s:%u:%u: ", end, line, column);
    }
    va_list args;
    va_start(args, format);
    fill(diag, where, format, args);
    va_end(args);
    return -1;
}
