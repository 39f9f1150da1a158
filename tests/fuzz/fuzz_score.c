/* Any bytes as a score: read, and walked if it reads. Plays nothing, so that a case costs little. */
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include "score.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    if (size == 0) {
        return 0; /* fmemopen refuses an empty buffer */
    }
    FILE *in = fmemopen((void *)(uintptr_t)data, size, "rb");
    hy_diag diag = {{0}};
    hy_score *score = in != NULL ? hy_score_read(in, "fuzz.score", &diag) : NULL;
    if (in != NULL && (score == NULL) != (diag.text[0] != '\0')) {
        abort(); /* a refusal gives its reason, and nothing else does */
    }
    if (score != NULL) {
        hy_action action;
        for (long i = 0; i < 20000 && hy_score_next(score, &action); i++) {
            if (action.kind == HY_SAY && (action.number < 0 || action.number > 63)) {
                abort();
            }
            if (action.kind == HY_SET_MARK && action.name[0] == '\0') {
                abort();
            }
        }
    }
    hy_score_free(score);
    if (in != NULL) {
        fclose(in);
    }
    return 0;
}
