/* hyoid chart: the 64 codes as a table for people, as CSV, as JSON or as a picture. */
#include "chart.h"

#include <stdlib.h>
#include <string.h>

#include "options.h"
#include "outfile.h"
#include "places.h"
#include "rows.h"
#include "text.h"

enum { OPT_JSON, OPT_CSV, OPT_PICTURE, OPT_PART, OPT_OUTPUT };

static const hy_option options[] = {
    {"json", 0, NULL, "write JSON"},
    {"csv", 0, NULL, "write CSV"},
    {"picture", 0, "FILE.png",
     "draw the vowels in the plane of F1 and F2 and a small spectrogram of each code;\n"
     "without -o, --csv or --json nothing else is written"},
    {"part", 0, "DIR", "the figures of this part, instead of the built-in default"},
    {"output", 'o', "FILE", "where to write; - is standard output (default)"},
    {NULL, 0, NULL, NULL},
};

static const hy_usage usage = {
    "chart",
    "[--csv | --json] [--picture FILE.png] [--part DIR] [-o FILE]",
    "The 64 phoneme codes: symbol, IPA, duration at the part's nominal clock, an example, where\n"
    "the formants stand when the phoneme is held, and how these are known. Beside them what is\n"
    "measured on the sound that the part makes of each: formants, level, centre of gravity. A\n"
    "measurement without a meaning, such as a formant of silence or of noise, is left empty.\n"
    "\n"
    "The built-in default part is an ESTIMATE from published, recalled and fitted figures, not a\n"
    "reading of any chip. `hyoid part show CODE` tells the source of every number.",
    options,
    "Examples:\n"
    "  hyoid chart --picture chart.png\n"
    "  hyoid chart --csv -o chart.csv",
};

typedef enum form { AS_TABLE, AS_CSV, AS_JSON } form;

typedef struct request {
    form as;
    const char *part, *output, *picture;
} request;

static int write_text(const request *r, const hy_chart *chart, hy_diag *diag)
{
    hy_outfile *out = hy_outfile_open(r->output != NULL ? r->output : "-", diag);
    if (out == NULL) {
        return -1;
    }
    int status = 0;
    if (r->as == AS_JSON) {
        status = hy_chart_json(chart, hy_outfile_stream(out), diag);
    } else if (r->as == AS_CSV) {
        hy_chart_csv(chart, hy_outfile_stream(out));
    } else {
        hy_chart_table(chart, hy_outfile_stream(out));
    }
    if (status != 0) {
        hy_outfile_abandon(out);
        return -1;
    }
    return hy_outfile_commit(out, diag);
}

static int write_chart(const request *r, hy_diag *diag)
{
    static const char *const names[] = {"text", "a table", "JSON"};
    static const char *const endings[] = {".txt", HY_FORM_TABLE, HY_FORM_JSON};
    const char *const outputs[] = {r->picture, r->output};
    const hy_place_form forms[] = {{"picture", r->picture, "a picture", HY_FORM_PICTURE},
                                   {"output", r->output, names[r->as], endings[r->as]}};
    if (hy_places_check(outputs, 2, &r->part, 1, diag) != 0 || hy_places_forms(forms, 2, diag) != 0) {
        return hy_refuse(diag);
    }
    hy_partfile *file = r->part != NULL ? hy_partfile_read(r->part, diag) : hy_partfile_default(diag);
    hy_chart *chart = file != NULL ? malloc(sizeof *chart) : NULL;
    int status = chart != NULL ? hy_chart_make(chart, file, r->part, diag) : -1;
    if (status == 0 && r->picture != NULL) {
        status = hy_chart_picture(chart, r->picture, diag);
    }
    if (status == 0 && (r->picture == NULL || r->output != NULL || r->as != AS_TABLE)) {
        status = write_text(r, chart, diag);
    }
    if (file != NULL && chart == NULL) {
        hy_fail(diag, "out of memory");
    }
    free(chart);
    hy_partfile_free(file);
    return status == 0 ? 0 : hy_refuse(diag);
}

int hy_chart_main(int argc, char **argv)
{
    hy_diag diag = {""};
    request r = {AS_TABLE, NULL, NULL, NULL};
    hy_options state;
    hy_options_start(&state, &usage, argc, argv);
    for (;;) {
        int found = hy_options_next(&state, &diag);
        switch (found) {
        case OPT_JSON:
        case OPT_CSV:
            if (r.as != AS_TABLE) {
                hy_fail(&diag, "chart writes either --csv or --json");
                return hy_refuse(&diag);
            }
            r.as = found == OPT_JSON ? AS_JSON : AS_CSV;
            break;
        case OPT_PICTURE:
            r.picture = state.value;
            break;
        case OPT_PART:
            r.part = state.value;
            break;
        case OPT_OUTPUT:
            r.output = state.value;
            break;
        case HY_OPERAND:
            hy_fail(&diag, "chart takes no operand; found %s", hy_show(state.value, strlen(state.value)).text);
            return hy_refuse(&diag);
        case HY_OPTIONS_HELP:
            return hy_options_help(&usage);
        case HY_OPTIONS_BAD:
            return hy_refuse(&diag);
        default:
            return write_chart(&r, &diag);
        }
    }
}
