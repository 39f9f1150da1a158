#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include <hyoid/hyoid.h>

#include "picture_private.h"

hy_picture *hy_picture_open(const char *path, uint32_t rate, int64_t duration_ps, const char *title, const char *note,
                            hy_diag *diag)
{
    hy_picture *picture = calloc(1, sizeof *picture);
    if (picture == NULL) {
        hy_fail(diag, "cannot write %s: out of memory", path);
        return NULL;
    }
    picture->rate = rate;
    picture->empty = duration_ps <= 0;
    picture->duration = picture->empty ? HYOID_PS_PER_S / 1000 : duration_ps;
    for (int i = 0; i < HY_COLUMNS; i++) {
        picture->column[i].request_end = -1;
    }
    picture->file = hy_outfile_open(path, diag);
    if (picture->file != NULL) {
        double total = picture->empty ? 0 : (double)duration_ps * rate / (double)HYOID_PS_PER_S;
        picture->title = hy_text_clean(title);
        picture->note = hy_text_clean(note);
        picture->spectrum = hy_spectrum_new(rate, total);
        if (picture->title == NULL || picture->note == NULL || picture->spectrum == NULL) {
            hy_fail(diag, "cannot write %s: out of memory", path);
        }
    }
    if (picture->spectrum == NULL || picture->title == NULL || picture->note == NULL) {
        hy_picture_abandon(picture);
        return NULL;
    }
    return picture;
}

/* The time axis in columns, from 0 at its start to HY_COLUMNS at its end. */
static double place(const hy_picture *picture, int64_t ps)
{
    double at = (double)ps / (double)picture->duration;
    return HY_COLUMNS * (at < 0 ? 0 : at > 1 ? 1 : at);
}

double hy_picture_x(const hy_picture *picture, int64_t ps)
{
    return HY_PLOT_X + place(picture, ps);
}

static int index_of(double at)
{
    return at < HY_COLUMNS ? (int)at : HY_COLUMNS - 1;
}

void hy_picture_frames(hy_picture *picture, const float *frames, size_t count)
{
    double per_frame = HY_COLUMNS * ((double)HYOID_PS_PER_S / picture->rate) / (double)picture->duration;
    for (size_t i = 0; i < count; i++) {
        double from = (double)(picture->samples + i) * per_frame;
        float x = hy_tame(frames[i]);
        if (from >= HY_COLUMNS) {
            break;
        }
        /* a short signal's sample is wider than a column */
        for (int c = (int)from; c < HY_COLUMNS && (c == (int)from || c < from + per_frame); c++) {
            hy_column *column = &picture->column[c];
            column->low = x < column->low ? x : column->low;
            column->high = x > column->high ? x : column->high;
        }
    }
    picture->samples += count;
    hy_spectrum_frames(picture->spectrum, frames, count);
}

void hy_picture_latch(hy_picture *picture, int64_t ps, unsigned code)
{
    if (ps >= picture->duration) {
        return;
    }
    hy_column *column = &picture->column[index_of(place(picture, ps))];
    if (column->latches == 0) {
        column->first_latch_ps = ps;
    }
    column->latches++;
    column->last_latch_ps = ps;
    column->last_code = (uint8_t)(code & 63);
    picture->latches++;
}

void hy_picture_request(hy_picture *picture, int64_t ps, int level)
{
    if (ps >= picture->duration) {
        return;
    }
    hy_column *column = &picture->column[index_of(place(picture, ps))];
    column->request_seen |= level != 0 ? 2 : 1;
    column->request_end = level != 0;
}

static void add_clock(hy_column *column, double from_hz, double to_hz)
{
    double low = from_hz < to_hz ? from_hz : to_hz;
    double high = from_hz < to_hz ? to_hz : from_hz;
    if (!column->has_clock) {
        column->has_clock = 1;
        column->clock_first = from_hz;
        column->clock_low = low;
        column->clock_high = high;
    }
    column->clock_low = low < column->clock_low ? low : column->clock_low;
    column->clock_high = high > column->clock_high ? high : column->clock_high;
    column->clock_last = to_hz;
}

void hy_picture_clock(hy_picture *picture, int64_t from_ps, double from_hz, int64_t to_ps, double to_hz)
{
    if (from_ps >= picture->duration || to_ps < from_ps) {
        return;
    }
    double from = place(picture, from_ps);
    /* the true end, which may lie beyond the axis: the slope depends on it */
    double to = HY_COLUMNS * ((double)to_ps / (double)picture->duration);
    for (int c = index_of(from); c < HY_COLUMNS && (c < to || c == index_of(from)); c++) {
        double left = c > from ? c : from;
        double right = c + 1 < to ? c + 1 : to;
        double slope = to > from ? (to_hz - from_hz) / (to - from) : 0;
        double end = right >= to ? to_hz : from_hz + slope * (right - from);
        add_clock(&picture->column[c], from_hz + slope * (left - from), end);
    }
}

/* Marks in one column share a flag. */
void hy_picture_mark(hy_picture *picture, int64_t ps, const char *name)
{
    hy_column *column = &picture->column[index_of(place(picture, ps))];
    char *clean = hy_text_clean(name);
    if (clean == NULL) {
        return; /* without memory the flag is missing, no more */
    }
    if (column->mark == NULL) {
        column->mark = clean;
        column->mark_ps = ps;
        return;
    }
    size_t length = strlen(column->mark);
    size_t more = strlen(clean);
    if (length + more < 200) { /* wider than the page */
        char *both = realloc(column->mark, length + 2 + more + 1);
        if (both != NULL) {
            memcpy(both + length, ", ", 2);
            memcpy(both + length + 2, clean, more + 1);
            column->mark = both;
        }
    }
    free(clean);
}

int hy_picture_finish(hy_picture *picture, hy_diag *diag)
{
    hy_spectrum_end(picture->spectrum);
    cairo_t *page = hy_picture_draw(picture);
    if (page == NULL) {
        return hy_outfile_fail(picture->file, ENOMEM, diag);
    }
    int status = hy_page_write(page, picture->file, diag);
    cairo_destroy(page);
    return status;
}

int hy_picture_commit(hy_picture *picture, hy_diag *diag)
{
    int result = hy_outfile_commit(picture->file, diag);
    picture->file = NULL;
    hy_picture_abandon(picture);
    return result;
}

void hy_picture_abandon(hy_picture *picture)
{
    if (picture != NULL) {
        hy_outfile_abandon(picture->file);
        hy_spectrum_free(picture->spectrum);
        for (int i = 0; i < HY_COLUMNS; i++) {
            free(picture->column[i].mark);
        }
        free(picture->title);
        free(picture->note);
        free(picture);
    }
}
