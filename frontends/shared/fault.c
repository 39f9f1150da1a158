#include "fault.h"

#include <stdio.h>
#include <string.h>

#include "optvalue.h"
#include "text.h"

static int no_such(const char *text, size_t length, hy_diag *diag)
{
    const char *names[HYOID_FAULTS];
    char all[600] = "";
    for (int i = 0; i < HYOID_FAULTS; i++) {
        names[i] = hyoid_fault_describe((hyoid_fault)i)->name;
        size_t used = strlen(all);
        snprintf(all + used, sizeof all - used, "%s%s", i > 0 ? " " : "", names[i]);
    }
    const hy_near near = hy_near_names(text, length, names, HYOID_FAULTS);
    return near.text[0] != '\0' ? hy_fail(diag, "--fault %s: no such fault; did you mean %s?", text, near.text)
                                : hy_fail(diag, "--fault %s: one of these would be right: %s", text, all);
}

int hy_fault_read(const char *text, hy_fault *fault, hy_diag *diag)
{
    const char *colon = strchr(text, ':');
    const size_t length = colon != NULL ? (size_t)(colon - text) : strlen(text);
    *fault = (hy_fault){.fault = HYOID_FAULTS, .strength = 1.0};
    for (int i = 0; i < HYOID_FAULTS; i++) {
        if (hy_word_is(text, length, hyoid_fault_describe((hyoid_fault)i)->name)) {
            *fault = (hy_fault){1, (hyoid_fault)i, 1.0};
        }
    }
    if (!fault->given) {
        return no_such(text, length, diag);
    }
    if (colon == NULL) {
        return 0;
    }
    if (!hyoid_fault_describe(fault->fault)->graded) {
        return hy_fail(diag, "--fault %s: this fault has no degrees; %.*s would be right", text, (int)length, text);
    }
    if (hy_value_number(colon + 1, 0.0, 1.0, "fault", &fault->strength, diag) != 0 || !(fault->strength > 0.0)) {
        diag->text[0] = '\0';
        return hy_fail(diag, "--fault %s: a strength above 0, up to 1, would be right, such as %.*s:0.5", text,
                       (int)length, text);
    }
    return 0;
}

hy_fault_text hy_fault_say(const hy_fault *fault)
{
    hy_fault_text said;
    const hyoid_fault_info *info = hyoid_fault_describe(fault->fault);
    if (info->graded) {
        snprintf(said.text, sizeof said.text, "%s at %.4g", info->name, fault->strength);
    } else {
        snprintf(said.text, sizeof said.text, "%s", info->name);
    }
    return said;
}

void hy_fault_prepare(void *user, hyoid_stream *stream)
{
    const hy_fault *fault = user;
    if (fault->given) {
        hyoid_chip_set_fault(&stream->chip, fault->fault, fault->strength);
    }
}
