#include "avr_text.h"

#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "text.h"

void hy_avr_text_start(hy_avr_text *t, int descriptor)
{
    memset(t, 0, sizeof *t);
    t->descriptor = dup(descriptor);
    int nowhere = open("/dev/null", O_WRONLY | O_CLOEXEC);
    if (nowhere >= 0) {
        dup2(nowhere, STDOUT_FILENO);
        close(nowhere);
    }
}

static void flush(hy_avr_text *t)
{
    size_t done = 0;
    while (done < t->used) {
        ssize_t put = write(t->descriptor, t->line + done, t->used - done);
        if (put <= 0) {
            break; /* nobody reads it: the firmware goes on all the same, as on the bench */
        }
        done += (size_t)put;
    }
    t->open = t->used > 0 ? t->line[t->used - 1] != '\n' : t->open;
    t->used = 0;
}

void hy_avr_text_put(hy_avr_text *t, unsigned char c)
{
    if (c == '\r') {
        return;
    }
    if (t->used + 5 > sizeof t->line) {
        flush(t);
    }
    if (c == '\n' || c == '\t' || (c >= ' ' && c <= '~')) {
        t->line[t->used++] = (char)c;
    } else {
        t->used += (size_t)snprintf(t->line + t->used, 5, "\\x%02x", c);
    }
    if (c == '\n') {
        flush(t);
    }
}

void hy_avr_text_finish(hy_avr_text *t)
{
    flush(t);
    if (t->open) {
        hy_avr_text_put(t, '\n');
    }
    if (t->descriptor >= 0) {
        close(t->descriptor);
    }
}

void hy_avr_text_trouble(hy_avr_text *t, const char *format, va_list args)
{
    char said[300];
    vsnprintf(said, sizeof said, format, args);
    const char *address = strstr(said, "Address ");
    const char *what = strstr(said, "Invalid write") != NULL  ? "it wrote where there is no memory"
                       : strstr(said, "Invalid read") != NULL ? "it read where there is no memory"
                                                              : NULL;
    if (what != NULL && address != NULL) {
        snprintf(t->trouble, sizeof t->trouble, "%s, at 0x%.4s", what, address + strlen("Address "));
    }
}

const char *hy_avr_text_reason(const hy_avr_text *t)
{
    return t->trouble[0] != '\0' ? t->trouble : "it ran out of the flash";
}

int hy_avr_unknown(const hy_wiring *wiring, const char *wiring_name, const char *const *names, size_t count,
                   hy_diag *diag)
{
    size_t length = strlen(wiring->mcu);
    hy_near near = hy_near_names(wiring->mcu, length, names, count);
    hy_shown shown = hy_show(wiring->mcu, length);
    if (near.text[0] != '\0') {
        return hy_fail_at(diag, wiring_name, wiring->mcu_line, wiring->mcu_column,
                          "found %s, which libsimavr does not know; did you mean %s?", shown.text, near.text);
    }
    return hy_fail_at(diag, wiring_name, wiring->mcu_line, wiring->mcu_column,
                      "found %s, which libsimavr does not know; expected one that it does, such as atmega328p, "
                      "atmega1284p, atmega32 or attiny85",
                      shown.text);
}
