/* Where a verb reads and writes: no file may be lost by a slip in a name. */
#ifndef HY_PLACES_H
#define HY_PLACES_H

#include <stddef.h>

#include "diag.h"

/* Whether no two outputs, and no output and an input, are one file, however their names are spelled ("./a" and "a", a link
 * and its target), and none is empty. Null stands for what isn't asked for; "-" as input and output are two streams. Among the
 * inputs a part's folder stands for its tables. 0, or -1. */
int hy_places_check(const char *const *outputs, size_t output_count, const char *const *inputs, size_t input_count,
                    hy_diag *diag);

/* An output and what is written to it. */
typedef struct hy_place_form {
    const char *option, *path; /* --option path; a path may be null */
    const char *what;          /* "a score" */
    const char *endings;       /* ".html .htm": those that fit, letters of either case */
} hy_place_form;

/* Whether no name ends as those of another form that this program writes or reads: text in a .wav was a slip, and what stood
 * there would be lost. Endings that mean nothing here, and none, are the user's affair. 0, or -1. */
int hy_places_forms(const hy_place_form *forms, size_t count, hy_diag *diag);

#define HY_FORM_SCORE ".score"
#define HY_FORM_TABLE ".csv"
#define HY_FORM_JSON ".json"
#define HY_FORM_PAGE ".html .htm"
#define HY_FORM_PICTURE ".png"
#define HY_FORM_DUMP ".vcd"
#define HY_FORM_LABELS ".TextGrid"
#define HY_FORM_C ".h .c .inc"

#endif
