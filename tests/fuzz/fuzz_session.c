/* Any bytes as a session's metadata, and as an archive. What is taken for metadata must have all that the samples need. */
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "input.h"
#include "waves/session_private.h"
#include "waves/waves.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static int on_change(void *user, const hy_vcd_change *change)
{
    int64_t *last = user;
    REQUIRE(change->ps >= *last && change->count == 1);
    *last = change->ps;
    return 0;
}

static void as_archive(const uint8_t *data, size_t size)
{
    hy_diag diag = {{0}};
    FILE *in = tmpfile();
    REQUIRE(in != NULL && fwrite(data, 1, size, in) == size && fflush(in) == 0);
    hy_waves *waves = hy_waves_open(in, "fuzz.sr", 0.0, &diag);
    int failed = waves == NULL;
    if (waves != NULL) {
        int64_t last = 0;
        const hy_vcd_listener listener = {&last, on_change, NULL};
        for (unsigned i = 0; i < hy_waves_vars(waves); i++) {
            hy_waves_select(waves, i);
        }
        failed = hy_waves_run(waves, &listener, &diag) != 0;
        REQUIRE(failed || last <= hy_waves_last(waves));
    }
    REQUIRE(failed == (diag.text[0] != '\0'));
    hy_waves_close(waves);
    fclose(in);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    hy_diag diag = {{0}};
    hy_session_meta meta = {.rate = 0.0};
    int failed = hy_session_meta_read(&meta, (const char *)data, size, "fuzz.sr", &diag) != 0;
    REQUIRE(failed == (diag.text[0] != '\0'));
    REQUIRE(failed ||
            (meta.file[0] != '\0' && meta.rate > 0.0 && meta.unit >= 1 && meta.unit <= HY_SESSION_UNIT_MAX));
    hy_channels_free(&meta.channels);
    as_archive(data, size);
    return 0;
}
