/* Any bytes as a wiring file. */
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include "../../frontends/firmware/wiring.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    hy_wiring wiring;
    hy_diag diag = {{0}};
    int result = hy_wiring_parse(&wiring, "fuzz.wiring", (const char *)data, size, &diag);
    if ((result != 0) != (diag.text[0] != '\0')) {
        abort(); /* a refusal gives its reason, and nothing else does */
    }
    for (int pin = 0; result == 0 && pin < HY_PINS; pin++) {
        const hy_lead *lead = &wiring.pin[pin];
        if (lead->kind == HY_UNWIRED ||
            (lead->kind == HY_TO_PORT && (lead->port < 'A' || lead->port > 'L' || lead->bit > 7))) {
            abort();
        }
    }
    return 0;
}
