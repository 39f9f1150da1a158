/* Any bytes as a write log. What reads must survive being written and read again, byte for byte the second time. */
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "log.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static hy_log *read_log(const void *data, size_t size)
{
    hy_diag diag = {{0}};
    FILE *in = fmemopen((void *)(uintptr_t)data, size, "rb");
    if (in == NULL) {
        abort();
    }
    hy_log *log = hy_log_read_csv(in, "fuzz.csv", &diag);
    if ((log == NULL) != (diag.text[0] != '\0')) {
        abort(); /* a refusal gives its reason, and nothing else does */
    }
    fclose(in);
    return log;
}

static char *write_log(hy_log *log, size_t *size)
{
    hy_diag diag = {{0}};
    char *text = NULL;
    FILE *out = open_memstream(&text, size);
    if (out == NULL || hy_log_write_csv(log, out, &diag) != 0 || fclose(out) != 0) {
        abort();
    }
    return text;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    if (size == 0) {
        return 0; /* fmemopen refuses an empty buffer */
    }
    hy_log *log = read_log(data, size);
    if (log == NULL) {
        return 0;
    }
    size_t first_size;
    size_t second_size;
    char *first = write_log(log, &first_size);
    hy_log *again = read_log(first, first_size);
    if (again == NULL) {
        abort();
    }
    char *second = write_log(again, &second_size);
    if (first_size != second_size || memcmp(first, second, first_size) != 0) {
        abort();
    }
    free(first);
    free(second);
    hy_log_free(log);
    hy_log_free(again);
    return 0;
}
