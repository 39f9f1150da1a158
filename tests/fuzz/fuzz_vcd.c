/* Any bytes as a value change dump. However the reader's buffer is filled it must tell the same; what is taken for a capture must
 * make a write log that can be written, read and written again. */
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "capture.h"
#include "input.h"
#include "vcd_read.h"
#include "vcd_read_private.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static FILE *stream_of(const void *data, size_t size)
{
    FILE *in = fmemopen((void *)(uintptr_t)data, size, "rb");
    REQUIRE(in != NULL);
    return in;
}

/* ---- the reader ---- */

typedef struct telling {
    uint64_t hash; /* of everything that is told */
    unsigned words;
} telling;

static void mix(telling *t, const void *bytes, size_t size)
{
    const unsigned char *b = bytes;
    for (size_t i = 0; i < size; i++) {
        t->hash = (t->hash ^ b[i]) * UINT64_C(1099511628211);
    }
    t->words++;
}

static int on_change(void *user, const hy_vcd_change *c)
{
    mix(user, &c->ps, sizeof c->ps);
    mix(user, &c->signal, sizeof c->signal);
    if (c->digits == NULL) {
        mix(user, &c->real, sizeof c->real);
        return 0;
    }
    REQUIRE(c->count >= 1 && c->count <= c->width && (c->bits & c->unknown) == 0);
    mix(user, c->digits, c->count);
    char high = hy_vcd_digit(c, c->width - 1);
    REQUIRE(high == '0' || high == '1' || high == 'x' || high == 'z');
    return 0;
}

static int on_comment(void *user, int64_t ps, const char *text)
{
    mix(user, &ps, sizeof ps);
    mix(user, text, strlen(text));
    return 0;
}

static telling told(const uint8_t *data, size_t size, size_t chunk)
{
    telling t = {UINT64_C(14695981039346656037), 0};
    hy_diag diag = {{0}};
    FILE *in = stream_of(data, size);
    hy_vcd_reader *reader = hy_vcd_reader_open_by(in, "fuzz.vcd", chunk, &diag);
    int failed = reader == NULL;
    if (reader != NULL) {
        for (unsigned i = 0; i < hy_vcd_reader_vars(reader); i++) {
            const hy_vcd_name name = hy_vcd_reader_name(reader, i);
            mix(&t, name.text, strlen(name.text));
            hy_vcd_reader_select(reader, i);
        }
        const hy_vcd_listener listener = {&t, on_change, on_comment};
        failed = hy_vcd_reader_run(reader, &listener, &diag) != 0;
        REQUIRE(failed || hy_vcd_reader_first(reader) <= hy_vcd_reader_last(reader));
    }
    REQUIRE(failed == (diag.text[0] != '\0')); /* a refusal gives its reason, and nothing else does */
    mix(&t, diag.text, strlen(diag.text));
    hy_vcd_reader_close(reader);
    fclose(in);
    return t;
}

/* ---- as a capture ---- */

static char *text_of(hy_log *log, size_t *size)
{
    hy_diag diag = {{0}};
    char *text = NULL;
    FILE *out = open_memstream(&text, size);
    REQUIRE(out != NULL && hy_log_write_csv(log, out, &diag) == 0 && fclose(out) == 0);
    return text;
}

static void capture(const uint8_t *data, size_t size, const char *map)
{
    hy_diag diag = {{0}};
    hy_capture_note note;
    FILE *in = stream_of(data, size);
    hy_log *log = hy_capture_read(in, "fuzz.vcd", map, hyoid_part_default(), &note, &diag);
    fclose(in);
    REQUIRE((log == NULL) == (diag.text[0] != '\0') && (log == NULL) == (note.text[0] == '\0'));
    if (log == NULL) {
        return;
    }
    size_t first_size;
    size_t second_size;
    char *first = text_of(log, &first_size);
    in = stream_of(first, first_size);
    hy_log *again = hy_log_read_csv(in, "fuzz.csv", &diag);
    fclose(in);
    REQUIRE(again != NULL);
    char *second = text_of(again, &second_size);
    REQUIRE(first_size == second_size && memcmp(first, second, first_size) == 0);
    free(first);
    free(second);
    hy_log_free(log);
    hy_log_free(again);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    if (size == 0) {
        return 0; /* fmemopen refuses an empty buffer */
    }
    const telling whole = told(data, size, 0);
    for (size_t chunk = 1; chunk <= 5; chunk += 2) {
        const telling parts = told(data, size, chunk);
        REQUIRE(parts.hash == whole.hash && parts.words == whole.words);
    }
    capture(data, size, NULL);
    capture(data, size, "p0=b[0],p1=b[1],strobe=a,clock=c");
    capture(data, size, "p=b,strobe=a,i0=c,clock_hz=r,request=a");
    return 0;
}
