/* What a host may ask: sizes, worst cases, rates, and what a pin will be. Nothing here moves anything. */
#include "internal.h"

size_t hyoid_chip_size(void)
{
    return sizeof(hyoid_chip);
}

size_t hyoid_stream_size(void)
{
    return sizeof(hyoid_stream);
}

size_t hyoid_pull_size(void)
{
    return sizeof(hyoid_pull);
}

hyoid_status hyoid_check_build(uint32_t version, size_t part, size_t chip, size_t stream, size_t pull)
{
    /* while the major version is 0, each minor one is a line of its own */
    const uint32_t line = HYOID_VERSION_MAJOR > 0 ? 10000 : 100;
    if (version / line != HYOID_VERSION / line || version > HYOID_VERSION) {
        return HYOID_E_VERSION;
    }
    if (part != sizeof(hyoid_part) || chip != sizeof(hyoid_chip) || stream != sizeof(hyoid_stream) ||
        pull != sizeof(hyoid_pull)) {
        return HYOID_E_SIZE;
    }
    return HYOID_OK;
}

uint64_t hyoid_chip_most_levels(const hyoid_chip *chip, uint64_t clocks)
{
    return chip == NULL ? 0 : clocks / chip->part->filter_clocks + 1;
}

uint64_t hyoid_most_frames(uint32_t rate, int64_t ps)
{
    if (rate == 0 || ps < 0) {
        return 0;
    }
    const uint64_t second = (uint64_t)HYOID_PS_PER_S;
    const uint64_t whole = (uint64_t)ps / second, rest = (uint64_t)ps % second;
    /* below 1e12 times a rate: a rate of up to 1.8e7 fits; none above HYOID_RATE_MAX is in use */
    const uint64_t hz = rate < HYOID_RATE_MAX ? rate : HYOID_RATE_MAX;
    /* one more for a span that starts just before a sample, one for a sample that rounding let go early */
    return whole * hz + rest * hz / second + 2;
}

double hyoid_stream_chip_rate(const hyoid_stream *stream)
{
    return stream == NULL ? 0.0 : hyoid_stream_clock_hz(stream) / stream->chip.filter_clocks;
}

hyoid_status hyoid_stream_request_at(const hyoid_stream *stream, int64_t ps, int *level)
{
    if (stream == NULL || level == NULL) {
        return HYOID_E_NULL;
    }
    hyoid_stream ahead = *stream;
    ahead.observer = (hyoid_observer){0};
    ahead.output.rate = 0;
    ahead.images.left_out = 0;
    hyoid_chip_set_tap(&ahead.chip, NULL, NULL);
    hyoid_status status = hyoid_stream_run(&ahead, ps);
    if (status == HYOID_OK) {
        *level = hyoid_chip_request(&ahead.chip);
    }
    return status;
}
