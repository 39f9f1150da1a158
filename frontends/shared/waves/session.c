/* The archive of a session: what is in it, and in which order its pieces come. */
#include "waves/session.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include <zip.h>

#include "waves/session_private.h"

enum { PIECES_MAX = 1000000, META_MAX = 65536 };

/* ---- the archive ---- */

static int open_archive(hy_session *s, FILE *in)
{
    int descriptor = dup(fileno(in));
    if (descriptor < 0) {
        return hy_fail(s->diag, "cannot read %s: %s", s->name, strerror(errno));
    }
    int error = 0;
    s->archive = zip_fdopen(descriptor, ZIP_CHECKCONS, &error);
    if (s->archive != NULL) {
        return 0;
    }
    close(descriptor);
    fseek(in, 0, SEEK_END);
    zip_error_t reason;
    zip_error_init_with_code(&reason, error);
    hy_fail(s->diag, "%s: no whole ZIP archive, as a session is (%s); its directory should end at byte %ld: cut off?",
            s->name, zip_error_strerror(&reason), ftell(in));
    zip_error_fini(&reason);
    return -1;
}

/* A small member as text; the caller frees it. */
static char *member(hy_session *s, const char *name, size_t most, size_t *length)
{
    zip_stat_t status;
    if (zip_stat(s->archive, name, 0, &status) != 0) {
        hy_fail(s->diag, "%s: there is no %s in the archive; that is no session of a logic analyser", s->name, name);
        return NULL;
    }
    if (!(status.valid & ZIP_STAT_SIZE) || status.size > most) {
        hy_fail(s->diag, "%s: %s in the archive has more than %zu bytes; that is no session of a logic analyser",
                s->name, name, most);
        return NULL;
    }
    zip_file_t *file = zip_fopen(s->archive, name, 0);
    char *text = malloc(most + 1);
    zip_int64_t got = file != NULL && text != NULL ? zip_fread(file, text, most) : -1;
    if (got < 0) {
        hy_fail(s->diag, "%s: %s in the archive can't be read: %s", s->name, name,
                file != NULL ? zip_file_strerror(file) : zip_strerror(s->archive));
        free(text);
        text = NULL;
    } else {
        text[got] = '\0';
        *length = (size_t)got;
    }
    if (file != NULL) {
        zip_fclose(file);
    }
    return text;
}

static int read_version(hy_session *s)
{
    size_t length = 0;
    char *text = member(s, "version", 16, &length);
    if (text == NULL) {
        return -1;
    }
    int known = (text[0] == '1' || text[0] == '2') && (length == 1 || text[1] == '\n' || text[1] == '\r');
    free(text);
    return known ? 0 : hy_fail(s->diag, "%s: a session of a version that is not known; 1 and 2 are read", s->name);
}

static int read_meta(hy_session *s)
{
    size_t length = 0;
    char *text = member(s, "metadata", META_MAX, &length);
    if (text == NULL) {
        return -1;
    }
    int result = hy_session_meta_read(&s->meta, text, length, s->name, s->diag);
    free(text);
    return result;
}

/* Whether a member is a piece: "logic-1-" and digits. A number beyond PIECES_MAX stays beyond it. */
static int is_piece(const hy_session *s, const char *member_name, unsigned *number)
{
    size_t base = strlen(s->meta.file);
    if (member_name == NULL || strncmp(member_name, s->meta.file, base) != 0 || member_name[base] != '-') {
        return 0;
    }
    const char *digits = member_name + base + 1;
    *number = 0;
    for (; *digits >= '0' && *digits <= '9'; digits++) {
        *number = *number > PIECES_MAX ? *number : *number * 10 + (unsigned)(*digits - '0');
    }
    return *digits == '\0' && digits > member_name + base + 1;
}

static int take_piece(hy_session *s, zip_uint64_t at, const char *member_name, unsigned number, unsigned entries)
{
    if (number == 0 || number > entries) {
        return hy_fail(
            s->diag,
            "%s: there is a piece %.150s, but the archive has only %u files, and pieces count from 1; some "
            "are missing",
            s->name, member_name, entries);
    }
    if (s->pieces[number - 1] != 0) {
        return hy_fail(s->diag, "%s: there are two pieces %s-%u; one would be right", s->name, s->meta.file, number);
    }
    s->pieces[number - 1] = at + 1;
    s->piece_count = number > s->piece_count ? number : s->piece_count;
    return 0;
}

static int find_pieces(hy_session *s)
{
    zip_int64_t entries = zip_get_num_entries(s->archive, 0);
    if (entries > PIECES_MAX) {
        return hy_fail(s->diag, "%s: more than %d files in the archive; fewer would be right", s->name, PIECES_MAX);
    }
    s->pieces = calloc((size_t)entries + 1, sizeof *s->pieces);
    if (s->pieces == NULL) {
        return hy_fail(s->diag, "not enough memory to read %s", s->name);
    }
    for (zip_int64_t i = 0; i < entries; i++) {
        const char *member_name = zip_get_name(s->archive, (zip_uint64_t)i, ZIP_FL_ENC_RAW);
        unsigned number;
        if (is_piece(s, member_name, &number) &&
            take_piece(s, (zip_uint64_t)i, member_name, number, (unsigned)entries) != 0) {
            return -1;
        }
    }
    if (s->piece_count == 0) { /* version 1: one file without a number */
        zip_int64_t only = zip_name_locate(s->archive, s->meta.file, 0);
        s->pieces[0] = only >= 0 ? (zip_uint64_t)only + 1 : 0;
        s->piece_count = 1;
    }
    for (unsigned i = 0; i < s->piece_count; i++) {
        if (s->pieces[i] == 0) {
            return hy_fail(s->diag, "%s: the samples %s-%u are missing in the archive", s->name, s->meta.file, i + 1);
        }
    }
    return 0;
}

void *hy_session_open(FILE *in, const char *name, hy_diag *diag)
{
    hy_session *s = calloc(1, sizeof *s);
    if (s == NULL || (s->block = malloc(HY_SESSION_UNIT_MAX + HY_SESSION_BLOCK)) == NULL) {
        hy_fail(diag, "not enough memory to read %s", name);
        free(s);
        return NULL;
    }
    s->name = name;
    s->diag = diag;
    if (open_archive(s, in) != 0 || read_version(s) != 0 || read_meta(s) != 0 || find_pieces(s) != 0) {
        hy_session_close(s);
        return NULL;
    }
    return s;
}

void hy_session_close(void *opened)
{
    hy_session *s = opened;
    if (s->archive != NULL) {
        zip_discard(s->archive);
    }
    hy_channels_free(&s->meta.channels);
    free(s->pieces);
    free(s->block);
    free(s);
}

/* ---- as waves.c asks ---- */

hy_channels *hy_session_channels(void *opened)
{
    hy_session *s = opened;
    return &s->meta.channels;
}

int hy_session_run(void *opened, const hy_vcd_listener *listener, hy_diag *diag)
{
    hy_session *s = opened;
    s->diag = diag;
    for (unsigned i = 0; i < s->piece_count; i++) {
        if (hy_session_piece(s, i, listener) != 0) {
            return -1;
        }
        s->pieces_done = i + 1;
    }
    if (s->samples == 0) {
        return hy_fail(diag, "%s: there is not one sample in it", s->name);
    }
    return 0;
}

int64_t hy_session_last(const void *opened)
{
    const hy_session *s = opened;
    return s->samples > 0 ? hy_session_time(s, s->samples - 1) : -1;
}

void hy_session_progress(const void *opened, uint64_t *done, uint64_t *whole)
{
    const hy_session *s = opened;
    *done = s->pieces_done;
    *whole = s->piece_count;
}

double hy_session_period(const void *opened)
{
    const hy_session *s = opened;
    return 1e12 / s->meta.rate;
}
