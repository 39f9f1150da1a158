#include "choices.h"

#include "optvalue.h"
#include "places.h"

void hy_choices_start(hy_choices *choices)
{
    *choices = (hy_choices){.render = {.rate = 48000, .bits = 16, .tail_ps = INT64_C(50000000000)}};
}

int hy_choices_take(hy_choices *c, int option, const char *value, hy_diag *diag)
{
    hy_render_options *r = &c->render;
    int rate;
    double ms;
    switch (option) {
    case HY_CHOICE_OUTPUT:
        r->sound = value;
        return 0;
    case HY_CHOICE_RATE:
        if (hy_value_whole(value, HYOID_RATE_MIN, HYOID_RATE_MAX, "rate", &rate, diag) != 0) {
            return -1;
        }
        r->rate = (uint32_t)rate;
        return 0;
    case HY_CHOICE_BITS:
        return hy_value_bits(value, &r->bits, diag);
    case HY_CHOICE_DITHER:
        r->dither = 1;
        return 0;
    case HY_CHOICE_TAIL:
        if (hy_value_number(value, 0.0, 60000.0, "tail", &ms, diag) != 0) {
            return -1;
        }
        r->tail_ps = (int64_t)(ms * 1e9 + 0.5);
        return 0;
    case HY_CHOICE_PART:
        c->part = value;
        return 0;
    case HY_CHOICE_PINS:
        r->pins = value;
        return 0;
    case HY_CHOICE_LOGIC:
        r->logic = 1;
        return 0;
    case HY_CHOICE_LOG:
        r->log = value;
        return 0;
    case HY_CHOICE_LABELS:
        r->labels = value;
        return 0;
    case HY_CHOICE_PICTURE:
        r->picture = value;
        return 0;
    case HY_CHOICE_CHIP_RATE:
        r->chip_rate = 1;
        return 0;
    case HY_CHOICE_NO_IMAGES:
        r->no_images = 1;
        return 0;
    case HY_CHOICE_QUIET:
        c->quiet = 1;
        return 0;
    default:
        return hy_fail(diag, "unknown option");
    }
}

int hy_choices_check(const hy_choices *c, const char *verb, const char *const *inputs, size_t input_count,
                     hy_diag *diag)
{
    const hy_render_options *r = &c->render;
    const char *const places[] = {r->sound, r->pins, r->log, r->labels, r->picture};
    const size_t count = sizeof places / sizeof places[0];
    const hy_place_form forms[] = {{"pins", r->pins, "a value change dump", HY_FORM_DUMP},
                                   {"log", r->log, "a write log", HY_FORM_TABLE},
                                   {"labels", r->labels, "a TextGrid", HY_FORM_LABELS},
                                   {"picture", r->picture, "a picture", HY_FORM_PICTURE}};
    if (hy_places_check(places, count, inputs, input_count, diag) != 0 ||
        hy_places_check(places, count, &c->part, 1, diag) != 0 ||
        hy_places_forms(forms, sizeof forms / sizeof forms[0], diag) != 0) {
        return -1;
    }
    if (r->logic && r->pins == NULL) {
        return hy_fail(diag, "--logic says how --pins is written; --pins FILE.vcd is missing");
    }
    for (size_t i = 0; i < count; i++) {
        if (places[i] != NULL) {
            return 0;
        }
    }
    return hy_fail(diag, "%s needs an output: -o FILE, --pins, --log, --labels or --picture", verb);
}
