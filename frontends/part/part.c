/* hyoid part: checks a part folder, explains its numbers, compares two parts, writes the default part out. */
#include "part.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "options.h"
#include "outfile.h"
#include "partdiff.h"
#include "partfile_fields.h"
#include "places.h"
#include "text.h"

enum { OPT_PART, OPT_OUTPUT, OPT_C, OPT_JSON };

static const hy_option options[] = {
    {"part", 0, "DIR", "the part to show or export, instead of the built-in default"},
    {"output", 'o', "FILE", "where show, diff and export --c write; - is standard output (default)"},
    {"c", 0, NULL, "export: write the part as a C initialiser (core/part_default.inc)"},
    {"json", 0, NULL, "diff: write JSON"},
    {NULL, 0, NULL, NULL},
};

static const hy_usage usage = {
    "part",
    "check DIR\n"
    "show [CODE | SYMBOL | CONSTANT] [--part DIR] [-o FILE]\n"
    "diff A B [--json] [-o FILE]\n"
    "export DIR\n"
    "export --c [--part DIR] [-o FILE]",
    "A part is a folder with two tables, phonemes.csv and constants.csv, in which every number\n"
    "has a unit, a word for how sure it is, and a source.\n"
    "\n"
    "check   reads a folder and says the first thing that is wrong with it: status 0 if it is a\n"
    "        part, 1 if it breaks a rule, 2 if it can't be read\n"
    "show    explains numbers in Hz, dB and ms, with their provenance; without a name, a summary\n"
    "diff    every number in which two parts differ, as it stands and as it sounds (Hz, dB, ms);\n"
    "        a part is a folder or `default`; status 0 if they are equal, 1 if they differ\n"
    "export  writes the default part's tables to DIR for editing; existing files are never touched\n"
    "\n"
    "The built-in default part is an ESTIMATE from published, recalled and fitted figures, not a\n"
    "reading of any chip.",
    options,
    "Examples:\n"
    "  hyoid part show 0x2c\n"
    "  hyoid part diff default reference/parts/default",
};

typedef struct request {
    const char *operands[4];
    int count;
    const char *part;
    const char *output;
    int c, json;
} request;

static int write_to(const char *path, const char *what, const request *r, const hy_partfile *file, hy_diag *diag)
{
    hy_outfile *out = hy_outfile_open(path, diag);
    if (out == NULL) {
        return -1;
    }
    int status = 0;
    if (r->c) {
        hy_part_write_c(hy_partfile_part(file), hy_outfile_stream(out));
    } else {
        status = hy_part_show(file, r->part != NULL ? r->part : "default", what, hy_outfile_stream(out), diag);
    }
    if (status != 0) {
        hy_outfile_abandon(out);
        return -1;
    }
    return hy_outfile_commit(out, diag);
}

/* show and export --c: one part in, one text out. */
static int text_of_part(const request *r, const char *what, hy_diag *diag)
{
    hy_partfile *file = r->part != NULL ? hy_partfile_read(r->part, diag) : hy_partfile_default(diag);
    if (file == NULL) {
        return hy_refuse(diag);
    }
    int status = write_to(r->output != NULL ? r->output : "-", what, r, file, diag);
    hy_partfile_free(file);
    return status == 0 ? 0 : hy_refuse(diag);
}

static int join(char *path, size_t size, const char *folder, const char *name, hy_diag *diag)
{
    int length = snprintf(path, size, "%s/%s", folder, name);
    return length > 0 && (size_t)length < size ? 0 : hy_fail(diag, "%.200s...: the path is too long", folder);
}

/* A table that can't even be opened is bad input; one that breaks a rule is a verdict. */
static int readable(const char *folder, hy_diag *diag)
{
    hy_table_text tables[HY_TABLES];
    hy_default_tables(tables);
    for (int i = 0; i < HY_TABLES; i++) {
        char path[4096];
        if (join(path, sizeof path, folder, tables[i].name, diag) != 0) {
            return -1;
        }
        struct stat status;
        if (stat(path, &status) != 0 || access(path, R_OK) != 0) {
            return hy_fail(diag, "%s: %s", path, strerror(errno));
        }
        if (!S_ISREG(status.st_mode)) {
            return hy_fail(diag, "%s: not a regular file", path);
        }
    }
    return 0;
}

/* The exit status after a line on standard output. */
static int told(hy_diag *diag)
{
    if (fflush(stdout) != 0 || ferror(stdout)) {
        hy_fail(diag, "standard output: %s", strerror(errno));
        return hy_refuse(diag);
    }
    return 0;
}

static int check(const request *r, hy_diag *diag)
{
    const char *folder = r->operands[1];
    if (folder == NULL) {
        hy_fail(diag, "part check needs the folder of a part: hyoid part check DIR");
        return hy_refuse(diag);
    }
    if (readable(folder, diag) != 0) {
        return hy_refuse(diag);
    }
    hy_partfile *file = hy_partfile_read(folder, diag);
    if (file == NULL) {
        hy_refuse(diag);
        return 1;
    }
    uint64_t hash = hyoid_part_hash(hy_partfile_part(file));
    int same = hash == hyoid_part_hash(hyoid_part_default());
    printf("%s is a part; fingerprint %016llx, %s the default part\n", folder, (unsigned long long)hash,
           same ? "the same as" : "not the same as");
    hy_partfile_free(file);
    return told(diag);
}

static int export_tables(const char *folder, hy_diag *diag)
{
    hy_table_text tables[HY_TABLES];
    hy_outfile *out[HY_TABLES] = {NULL, NULL};
    hy_default_tables(tables);
    for (int i = 0; i < HY_TABLES; i++) {
        char path[4096];
        struct stat status;
        if (join(path, sizeof path, folder, tables[i].name, diag) != 0) {
            break;
        }
        if (lstat(path, &status) == 0) {
            hy_fail(diag, "%s exists already; export never writes over a file", path);
            break;
        }
        out[i] = hy_outfile_open(path, diag);
        if (out[i] == NULL) {
            break;
        }
        fwrite(tables[i].text, 1, tables[i].size, hy_outfile_stream(out[i]));
        if (hy_outfile_finish(out[i], diag) != 0) {
            break;
        }
    }
    if (diag->text[0] != '\0') {
        hy_outfile_abandon(out[0]);
        hy_outfile_abandon(out[1]);
        return -1;
    }
    if (hy_outfile_commit(out[0], diag) != 0) {
        hy_outfile_abandon(out[1]);
        return -1;
    }
    return hy_outfile_commit(out[1], diag);
}

static int export_folder(const request *r, hy_diag *diag)
{
    const char *folder = r->operands[1];
    if (folder == NULL) {
        hy_fail(diag, "part export needs a folder to write to: hyoid part export DIR");
        return hy_refuse(diag);
    }
    if (r->part != NULL || r->output != NULL) {
        hy_fail(diag, "part export DIR takes neither --part nor -o; they go with --c");
        return hy_refuse(diag);
    }
    int made = mkdir(folder, 0777) == 0;
    if (!made && errno != EEXIST) {
        hy_fail(diag, "%s: %s", folder, strerror(errno));
        return hy_refuse(diag);
    }
    if (export_tables(folder, diag) != 0) {
        if (made) {
            rmdir(folder);
        }
        return hy_refuse(diag);
    }
    printf("Wrote %s/phonemes.csv and %s/constants.csv. %s\n", folder, folder, hy_default_part_note);
    return told(diag);
}

static int wrong_verb(const char *word, hy_diag *diag)
{
    static const char *const words[] = {"check", "show", "diff", "export"};
    if (word == NULL) {
        hy_fail(diag, "part needs check, show, diff or export; `hyoid part --help` explains them");
    } else {
        hy_near near = hy_near_names(word, strlen(word), words, 4);
        if (near.text[0] != '\0') {
            hy_fail(diag, "part can't %s; did you mean %s?", hy_show(word, strlen(word)).text, near.text);
        } else {
            hy_fail(diag, "part can't %s; it has check, show, diff and export", hy_show(word, strlen(word)).text);
        }
    }
    return hy_refuse(diag);
}

static hy_partfile *named_part(const char *name, hy_diag *diag)
{
    return strcmp(name, "default") == 0 ? hy_partfile_default(diag) : hy_partfile_read(name, diag);
}

static int write_diff(const request *r, const hy_diff *d, hy_diag *diag)
{
    hy_outfile *out = hy_outfile_open(r->output != NULL ? r->output : "-", diag);
    int status = out != NULL ? 0 : -1;
    if (status == 0 && r->json) {
        status = hy_diff_json(d, hy_outfile_stream(out), diag);
    } else if (status == 0) {
        hy_diff_print(d, hy_outfile_stream(out));
    }
    if (status != 0) {
        hy_outfile_abandon(out);
        return -1;
    }
    return hy_outfile_commit(out, diag);
}

/* The verdict: 0 equal, 1 different, 2 bad input. */
static int diff(const request *r, hy_diag *diag)
{
    if (r->count < 3) {
        hy_fail(diag, "part diff needs two parts, each a folder or `default`: hyoid part diff A B");
        return hy_refuse(diag);
    }
    hy_partfile *a = named_part(r->operands[1], diag);
    hy_partfile *b = a != NULL ? named_part(r->operands[2], diag) : NULL;
    hy_diff d = {.count = 0};
    int status = b != NULL ? hy_diff_make(&d, a, r->operands[1], b, r->operands[2], diag) : -1;
    int differ = d.count > 0;
    if (status == 0) {
        status = write_diff(r, &d, diag);
    }
    hy_diff_free(&d);
    hy_partfile_free(a);
    hy_partfile_free(b);
    return status == 0 ? differ : hy_refuse(diag);
}

/* What may stand behind each word. */
typedef struct form {
    const char *name;
    int operands; /* at most, with the word itself */
    int part, output;
} form;

static int refuse_option(const form *f, const char *option, hy_diag *diag)
{
    hy_fail(diag, "option --%s does not go with part %s", option, f->name);
    return hy_refuse(diag);
}

static int check_output(const request *r, int is_diff, hy_diag *diag)
{
    const char *const inputs[] = {r->part, is_diff ? r->operands[1] : NULL, is_diff ? r->operands[2] : NULL};
    const hy_place_form written = {"output", r->output,
                                   r->json ? "JSON"
                                   : r->c  ? "C"
                                           : "text",
                                   r->json ? HY_FORM_JSON
                                   : r->c  ? HY_FORM_C
                                           : ".txt"};
    return hy_places_check(&r->output, 1, inputs, 3, diag) != 0 ? -1 : hy_places_forms(&written, 1, diag);
}

static int act(const request *r, hy_diag *diag)
{
    static const form forms[] = {{"check", 2, 0, 0}, {"show", 2, 1, 1}, {"diff", 3, 0, 1}, {"export", 2, 1, 1}};
    const char *verb = r->operands[0];
    const form *f = NULL;
    for (size_t i = 0; verb != NULL && i < sizeof forms / sizeof forms[0]; i++) {
        f = strcmp(verb, forms[i].name) == 0 ? &forms[i] : f;
    }
    if (f == NULL) {
        return wrong_verb(verb, diag);
    }
    int is_export = strcmp(verb, "export") == 0;
    int most = is_export && r->c ? 1 : f->operands;
    if (r->count > most) {
        hy_fail(diag, "part %s: one operand too many: %s", verb, r->operands[most]);
        return hy_refuse(diag);
    }
    if (r->c && !is_export) {
        return refuse_option(f, "c", diag);
    }
    if (r->json && strcmp(verb, "diff") != 0) {
        return refuse_option(f, "json", diag);
    }
    if (r->part != NULL && !f->part) {
        return refuse_option(f, "part", diag);
    }
    if (r->output != NULL && !f->output) {
        return refuse_option(f, "output", diag);
    }
    if (check_output(r, strcmp(verb, "diff") == 0, diag) != 0) {
        return hy_refuse(diag);
    }
    if (strcmp(verb, "check") == 0) {
        return check(r, diag);
    }
    if (strcmp(verb, "diff") == 0) {
        return diff(r, diag);
    }
    return is_export && !r->c ? export_folder(r, diag) : text_of_part(r, r->operands[1], diag);
}

int hy_part_main(int argc, char **argv)
{
    hy_diag diag = {""};
    request r = {{NULL, NULL, NULL, NULL}, 0, NULL, NULL, 0, 0};
    hy_options state;
    hy_options_start(&state, &usage, argc, argv);
    for (;;) {
        switch (hy_options_next(&state, &diag)) {
        case OPT_PART:
            r.part = state.value;
            break;
        case OPT_OUTPUT:
            r.output = state.value;
            break;
        case OPT_C:
            r.c = 1;
            break;
        case OPT_JSON:
            r.json = 1;
            break;
        case HY_OPERAND:
            if (r.count < 4) {
                r.operands[r.count++] = state.value;
            }
            break;
        case HY_OPTIONS_HELP:
            return hy_options_help(&usage);
        case HY_OPTIONS_BAD:
            return hy_refuse(&diag);
        default:
            return act(&r, &diag);
        }
    }
}
