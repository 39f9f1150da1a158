#include "jsonfile.h"

int hy_json_write(json_t *value, FILE *out, unsigned digits, hy_diag *diag)
{
    const int failed = value == NULL || (json_dumpf(value, out, JSON_INDENT(2) | JSON_REAL_PRECISION(digits)) != 0 &&
                                         ferror(out) == 0);
    fputc('\n', out);
    json_decref(value);
    return failed ? hy_fail(diag, "the result can't be put into JSON: a name is not UTF-8, or memory is short") : 0;
}

hy_outfile *hy_json_file(json_t *value, const char *path, unsigned digits, hy_diag *diag)
{
    hy_outfile *out = hy_outfile_open(path, diag);
    if (out == NULL) {
        json_decref(value);
        return NULL;
    }
    if (hy_json_write(value, hy_outfile_stream(out), digits, diag) != 0 || hy_outfile_finish(out, diag) != 0) {
        hy_outfile_abandon(out);
        return NULL;
    }
    return out;
}
