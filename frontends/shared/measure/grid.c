#include "grid.h"

#include <fftw3.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define WINDOW_S 0.008
#define FINEST_HZ 25.0
enum { MOST_WINDOWS = 64 }; /* in a column */

typedef struct work {
    int window, fft;
    double *in, *shape;
    fftw_complex *out;
    fftw_plan plan;
} work;

static int work_begin(work *w, uint32_t rate)
{
    w->window = 2 * (int)(rate * WINDOW_S / 2);
    w->fft = 64;
    while (w->fft < w->window || rate / (double)w->fft > FINEST_HZ) {
        w->fft *= 2;
    }
    w->shape = malloc((size_t)w->window * sizeof *w->shape);
    w->in = fftw_alloc_real((size_t)w->fft);
    w->out = fftw_alloc_complex((size_t)w->fft / 2 + 1);
    if (w->shape == NULL || w->in == NULL || w->out == NULL) {
        return -1;
    }
    w->plan = fftw_plan_dft_r2c_1d(w->fft, w->in, w->out, FFTW_ESTIMATE); /* measuring would vary from run to run */
    memset(w->in, 0, (size_t)w->fft * sizeof *w->in);
    for (int i = 0; i < w->window; i++) {
        w->shape[i] = 0.5 - 0.5 * cos(2 * 3.14159265358979323846 * (i + 0.5) / w->window);
    }
    return w->plan != NULL ? 0 : -1;
}

static void work_end(work *w)
{
    if (w->plan != NULL) {
        fftw_destroy_plan(w->plan);
    }
    fftw_free(w->in);
    fftw_free(w->out);
    free(w->shape);
}

static void add_window(const work *w, const float *frames, size_t count, double centre)
{
    long first = (long)centre - w->window / 2;
    for (int i = 0; i < w->window; i++) {
        long at = first + i;
        float x = at >= 0 && (size_t)at < count ? frames[at] : 0;
        w->in[i] = w->shape[i] * (isfinite(x) ? (double)x : 0); /* a bent part may have gone anywhere */
    }
    fftw_execute(w->plan);
}

static void fill_column(const work *w, hy_grid *grid, int column, uint32_t rate, int windows)
{
    float *cell = grid->power + (size_t)column * (size_t)grid->rows;
    for (int row = 0; row < grid->rows; row++) {
        double hz = grid->top_hz * (row + 0.5) / grid->rows;
        double at = hz * w->fft / rate;
        int bin = (int)at;
        if (bin >= w->fft / 2) {
            break; /* nothing above half the rate */
        }
        double above = at - bin;
        const double *a = w->out[bin];
        const double *b = w->out[bin + 1];
        double power = (1 - above) * (a[0] * a[0] + a[1] * a[1]) + above * (b[0] * b[0] + b[1] * b[1]);
        cell[row] += (float)(hy_emphasised(power, hz) / windows);
    }
}

int hy_grid_make(hy_grid *grid, int columns, int rows, double top_hz, const float *frames, size_t count,
                 uint32_t rate)
{
    *grid = (hy_grid){columns, rows, top_hz, calloc((size_t)columns * (size_t)rows, sizeof *grid->power)};
    work w = {0};
    if (grid->power == NULL || work_begin(&w, rate) != 0) {
        work_end(&w);
        hy_grid_free(grid);
        return -1;
    }
    double width = (double)count / columns;
    double wanted = ceil(width / (w.window / 4.0));
    int windows = wanted < 1 ? 1 : wanted > MOST_WINDOWS ? MOST_WINDOWS : (int)wanted;
    for (int column = 0; column < columns; column++) {
        for (int i = 0; i < windows; i++) {
            double half = w.window / 2.0;
            double centre = fmin(fmax(width * (column + (i + 0.5) / windows), half), (double)count - half);
            add_window(&w, frames, count, fmax(centre, (double)count / 2 < half ? 0 : half));
            fill_column(&w, grid, column, rate, windows);
        }
    }
    work_end(&w);
    return 0;
}

void hy_grid_free(hy_grid *grid)
{
    free(grid->power);
    grid->power = NULL;
}

double hy_grid_most(const hy_grid *grid)
{
    double most = 0;
    for (size_t i = 0; i < (size_t)grid->columns * (size_t)grid->rows; i++) {
        most = fmax(most, (double)grid->power[i]);
    }
    return most;
}

void hy_grid_paint(cairo_t *cr, const hy_grid *grid, double x, double y, double most)
{
    cairo_surface_t *image = cairo_image_surface_create(CAIRO_FORMAT_RGB24, grid->columns, grid->rows);
    unsigned char *data = cairo_image_surface_get_data(image);
    if (data == NULL) {
        cairo_surface_destroy(image); /* out of memory: the page's own status tells */
        return;
    }
    unsigned shade[256];
    for (int i = 0; i < 256; i++) {
        shade[i] = hy_shade(i / 255.0);
    }
    int stride = cairo_image_surface_get_stride(image);
    for (int row = 0; row < grid->rows; row++) {
        uint32_t *line = (uint32_t *)(void *)(data + (ptrdiff_t)(grid->rows - 1 - row) * stride);
        for (int column = 0; column < grid->columns; column++) {
            double power = (double)grid->power[(size_t)column * (size_t)grid->rows + (size_t)row];
            double t = most > 0 && power > 0 ? 1 + 10 * log10(power / most) / HY_SHADE_RANGE_DB : 0;
            line[column] = shade[t <= 0 ? 0 : t >= 1 ? 255 : (int)(t * 255)];
        }
    }
    cairo_surface_mark_dirty(image);
    cairo_set_source_surface(cr, image, x, y);
    cairo_paint(cr);
    cairo_surface_destroy(image);
}
