/* Any bytes as a table of a logic analyser. Times don't decrease, levels are levels, and reading it again tells the same. */
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "input.h"
#include "waves/table.h"
#include "waves/waves.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

typedef struct telling {
    int64_t last;
    uint64_t hash;
} telling;

static int on_change(void *user, const hy_vcd_change *change)
{
    telling *t = user;
    REQUIRE(change->ps >= t->last && change->ps <= HY_VCD_TIME_MAX && change->count == 1);
    REQUIRE(strchr("01xz", change->digits[0]) != NULL);
    t->last = change->ps;
    t->hash = (t->hash * 31 + (uint64_t)change->ps) * 31 + (uint64_t)change->digits[0] + change->signal;
    return 0;
}

static uint64_t told(const uint8_t *data, size_t size, double rate)
{
    telling t = {0, 0};
    hy_diag diag = {{0}};
    FILE *in = fmemopen((void *)(uintptr_t)data, size, "rb");
    REQUIRE(in != NULL);
    void *table = hy_table_open(in, "fuzz.csv", rate, &diag);
    int failed = table == NULL;
    if (table != NULL) {
        hy_channels *channels = hy_table_channels(table);
        for (unsigned i = 0; i < channels->count; i++) {
            hy_channels_select(channels, i);
        }
        const hy_vcd_listener listener = {&t, on_change, NULL};
        failed = hy_table_run(table, &listener, &diag) != 0;
        REQUIRE(failed || t.last <= hy_table_last(table));
        hy_table_close(table);
    }
    REQUIRE(failed == (diag.text[0] != '\0'));
    fclose(in);
    return t.hash;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    if (size == 0) {
        return 0; /* fmemopen refuses an empty buffer */
    }
    REQUIRE(told(data, size, 0.0) == told(data, size, 0.0));
    told(data, size, 1e6);
    char *text = malloc(size + 1);
    REQUIRE(text != NULL);
    memcpy(text, data, size);
    text[size] = '\0';
    (void)hy_table_looks_so(text);
    free(text);
    return 0;
}
