/* Telling the forms apart, and handing every question to the one that is open. */
#include "waves/waves.h"

#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "waves/session.h"
#include "waves/table.h"

/* The questions that a form answers. A form whose signals are channels (channels.h) leaves the first five to them. */
typedef struct form {
    void (*close)(void *reader);
    hy_channels *(*channels)(void *reader);
    int (*run)(void *reader, const hy_vcd_listener *listener, hy_diag *diag);
    int64_t (*last)(const void *reader);
    double (*period)(const void *reader);
} form;

struct hy_waves {
    FILE *in;
    off_t size; /* of the file; 0: not known */
    hy_waves_form is;
    const form *form;      /* of an analyser; null: a dump */
    hy_vcd_reader *dump;   /* null: an analyser's */
    void *reader;          /* of the form */
    hy_channels *channels; /* of the reader */
    double rate;           /* as the caller knows it; 0: not */
};

/* ---- which form ---- */

static int begins(const char *text, const char *word)
{
    return strncmp(text, word, strlen(word)) == 0;
}

hy_waves_form hy_waves_look(FILE *in)
{
    char head[4096] = "";
    rewind(in);
    size_t n = fread(head, 1, sizeof head - 1, in);
    head[n] = '\0';
    rewind(in);
    if (n >= 4 && memcmp(head, "PK", 2) == 0 &&
        (memcmp(head + 2, "\3\4", 2) == 0 || memcmp(head + 2, "\5\6", 2) == 0)) {
        return HY_WAVES_SESSION;
    }
    const char *text = begins(head, "\xef\xbb\xbf") ? head + 3 : head;
    text += strspn(text, " \t\r\n");
    if (*text == '$') {
        return HY_WAVES_DUMP;
    }
    return hy_table_looks_so(text) ? HY_WAVES_TABLE : HY_WAVES_NONE;
}

/* ---- opening ---- */

static const form session = {hy_session_close, hy_session_channels, hy_session_run, hy_session_last,
                             hy_session_period};
static const form table = {hy_table_close, hy_table_channels, hy_table_run, hy_table_last, hy_table_period};

static int open_form(hy_waves *w, FILE *in, const char *name, double rate, hy_diag *diag)
{
    if (w->is == HY_WAVES_SESSION) {
        w->form = &session;
        w->reader = hy_session_open(in, name, diag);
    } else if (w->is == HY_WAVES_TABLE) {
        w->form = &table;
        w->reader = hy_table_open(in, name, rate, diag);
    } else {
        w->dump = hy_vcd_reader_open(in, name, diag);
        return w->dump != NULL ? 0 : -1;
    }
    w->channels = w->reader != NULL ? w->form->channels(w->reader) : NULL;
    return w->reader != NULL ? 0 : -1;
}

hy_waves *hy_waves_open(FILE *in, const char *name, double rate, hy_diag *diag)
{
    hy_waves *w = calloc(1, sizeof *w);
    if (w == NULL) {
        hy_fail(diag, "not enough memory to read %s", name);
        return NULL;
    }
    w->in = in;
    w->is = hy_waves_look(in);
    w->size = fseeko(in, 0, SEEK_END) == 0 && ftello(in) > 0 ? ftello(in) : 0;
    rewind(in);
    size_t length = strlen(name);
    if (w->is == HY_WAVES_NONE && length > 3 && strcasecmp(name + length - 3, ".sr") == 0) {
        w->is = HY_WAVES_SESSION; /* whose reader says what is wrong */
    }
    w->rate = rate;
    if (open_form(w, in, name, rate, diag) != 0) {
        free(w);
        return NULL;
    }
    return w;
}

void hy_waves_close(hy_waves *w)
{
    if (w == NULL) {
        return;
    }
    hy_vcd_reader_close(w->dump);
    if (w->reader != NULL) {
        w->form->close(w->reader);
    }
    free(w);
}

hy_waves_form hy_waves_is(const hy_waves *w)
{
    return w->is;
}

/* ---- asking ---- */

unsigned hy_waves_vars(const hy_waves *w)
{
    return w->dump != NULL ? hy_vcd_reader_vars(w->dump) : w->channels->count;
}

hy_vcd_var hy_waves_var(const hy_waves *w, unsigned var)
{
    return w->dump != NULL ? hy_vcd_reader_var(w->dump, var) : hy_channels_var(w->channels, var);
}

hy_vcd_name hy_waves_name(const hy_waves *w, unsigned var)
{
    return w->dump != NULL ? hy_vcd_reader_name(w->dump, var) : hy_channels_name(w->channels, var);
}

int hy_waves_matches(const hy_waves *w, unsigned var, const char *text, size_t length, int fold)
{
    return w->dump != NULL ? hy_vcd_reader_matches(w->dump, var, text, length, fold)
                           : hy_channels_matches(w->channels, var, text, length, fold);
}

unsigned hy_waves_select(hy_waves *w, unsigned var)
{
    return w->dump != NULL ? hy_vcd_reader_select(w->dump, var) : hy_channels_select(w->channels, var);
}

int hy_waves_run(hy_waves *w, const hy_vcd_listener *listener, hy_diag *diag)
{
    return w->dump != NULL ? hy_vcd_reader_run(w->dump, listener, diag) : w->form->run(w->reader, listener, diag);
}

int64_t hy_waves_first(const hy_waves *w)
{
    return w->dump != NULL ? hy_vcd_reader_first(w->dump) : 0;
}

int64_t hy_waves_last(const hy_waves *w)
{
    return w->dump != NULL ? hy_vcd_reader_last(w->dump) : w->form->last(w->reader);
}

int64_t hy_waves_step(const hy_waves *w)
{
    if (w->dump != NULL) {
        return hy_vcd_reader_step(w->dump);
    }
    double period = w->form->period(w->reader);
    int64_t step = w->is == HY_WAVES_TABLE ? hy_table_step(w->reader) : 1;
    return period >= 1.0 ? (int64_t)(period + 0.5) : step;
}

int hy_waves_refuse(hy_waves *w, const char *expected)
{
    return w->dump != NULL ? hy_vcd_reader_refuse(w->dump, expected)
                           : -1; /* channels tell nothing but 0, 1, x and z */
}

void hy_waves_progress(const hy_waves *w, uint64_t *done, uint64_t *whole)
{
    if (w->is == HY_WAVES_SESSION) {
        hy_session_progress(w->reader, done, whole);
        return;
    }
    off_t at = ftello(w->in);
    *done = at > 0 ? (uint64_t)at : 0;
    *whole = (uint64_t)w->size;
}

double hy_waves_period(const hy_waves *w)
{
    double known = w->dump != NULL ? 0.0 : w->form->period(w->reader);
    return known <= 0.0 && w->rate > 0.0 ? 1e12 / w->rate : known;
}

int64_t hy_waves_origin(const hy_waves *w)
{
    return w->is == HY_WAVES_TABLE ? hy_table_origin(w->reader) : w->dump != NULL ? hy_vcd_reader_first(w->dump) : 0;
}
