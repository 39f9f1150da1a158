/* Power off and on: everything as after init, except what is not the chip's own state. */
#include "internal.h"

hyoid_status hyoid_chip_reset(hyoid_chip *chip)
{
    if (chip == NULL) {
        return HYOID_E_NULL;
    }
    hyoid_chip fresh;
    hyoid_status status = hyoid_chip_init(&fresh, chip->part);
    if (status != HYOID_OK) {
        return status;
    }
    for (unsigned i = 0; i < HYOID_FAULTS; i++) {
        if (chip->fault[i] > 0.0) {
            hyoid_chip_set_fault(&fresh, (hyoid_fault)i, chip->fault[i]);
        }
    }
    hyoid_chip_set_tap(&fresh, chip->tap, chip->tap_user);
    *chip = fresh;
    return HYOID_OK;
}

hyoid_status hyoid_stream_reset(hyoid_stream *stream)
{
    if (stream == NULL) {
        return HYOID_E_NULL;
    }
    hyoid_chip chip = stream->chip;
    hyoid_status status = hyoid_chip_reset(&chip);
    if (status != HYOID_OK) {
        return status;
    }
    const hyoid_observer observer = stream->observer;
    const int keep = !stream->images.left_out;
    status = hyoid_stream_init(stream, chip.part, stream->output.rate, &observer);
    if (status == HYOID_OK) {
        stream->chip = chip;
        hyoid_stream_keep_images(stream, keep);
    }
    return status;
}
