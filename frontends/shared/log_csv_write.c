#include "log.h"

#include <csv.h>
#include <errno.h>
#include <string.h>

#include "number.h"

/* Quotes only what a comma, a quotation mark or a space at its edge would break. */
static void put_name(FILE *out, const char *name)
{
    if (strpbrk(name, ",\" \t") != NULL) {
        csv_fwrite(out, name, strlen(name));
    } else {
        fputs(name, out);
    }
}

int hy_log_write_csv(hy_log *log, FILE *out, hy_diag *diag)
{
    static const char *const pins[HY_PINS] = {"p0", "p1", "p2", "p3", "p4", "p5", "i0", "i1", "strobe"};
    hy_event event;
    int status;
    int gliding = 0; /* the preceding clock event glides to the next */
    if (hy_log_rewind(log, diag) != 0) {
        return -1;
    }
    errno = 0;
    fputs("time_s,signal,value\n", out);
    while ((status = hy_log_next(log, &event, diag)) > 0) {
        fputs(hy_ps_text(event.ps).text, out);
        switch ((hy_signal)event.signal) {
        case HY_PHONEME:
            fprintf(out, ",phoneme,%d\n", (int)event.number);
            break;
        case HY_INFLECTION:
            fprintf(out, ",inflection,%d\n", (int)event.number);
            break;
        case HY_CLOCK:
            fprintf(out, ",%s,%s\n", gliding ? "clock_to" : "clock_hz", hy_double_text(event.hz).text);
            gliding = event.to_ps > event.ps;
            break;
        case HY_PIN:
            fprintf(out, ",%s,%d\n", pins[event.number / 2], (int)(event.number & 1));
            break;
        case HY_MARK:
            fputs(",mark,", out);
            put_name(out, hy_log_mark_name(log, event.number));
            fputc('\n', out);
            break;
        case HY_END:
            fputs(",end,0\n", out);
            break;
        }
        if (ferror(out)) {
            return hy_fail(diag, "the write log can't be written: %s", strerror(errno));
        }
    }
    return status < 0 ? -1 : 0;
}
