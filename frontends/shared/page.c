#include "page.h"

#include <errno.h>
#include <math.h>

#define EMPHASIS_HZ 50.0

cairo_t *hy_page_new(int width, int height)
{
    cairo_surface_t *surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24, width, height);
    cairo_t *cr = cairo_create(surface);
    cairo_surface_destroy(surface); /* the context keeps it */
    cairo_font_options_t *options = cairo_font_options_create();
    cairo_font_options_set_antialias(options, CAIRO_ANTIALIAS_GRAY); /* not what a desktop happens to prefer */
    cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_SLIGHT);
    cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
    cairo_set_font_options(cr, options);
    cairo_font_options_destroy(options);
    hy_set_colour(cr, HY_PAPER, 1);
    cairo_paint(cr);
    if (cairo_status(cr) != CAIRO_STATUS_SUCCESS) {
        cairo_destroy(cr);
        return NULL;
    }
    return cr;
}

static cairo_status_t put_png(void *user, const unsigned char *data, unsigned length)
{
    return fwrite(data, 1, length, user) == length ? CAIRO_STATUS_SUCCESS : CAIRO_STATUS_WRITE_ERROR;
}

int hy_page_write(cairo_t *page, hy_outfile *out, hy_diag *diag)
{
    errno = 0;
    cairo_status_t status = cairo_status(page);
    if (status == CAIRO_STATUS_SUCCESS) {
        status = cairo_surface_write_to_png_stream(cairo_get_target(page), put_png, hy_outfile_stream(out));
    }
    int error = errno;
    if (status == CAIRO_STATUS_WRITE_ERROR) {
        return hy_outfile_fail(out, error, diag);
    }
    if (status != CAIRO_STATUS_SUCCESS) {
        return hy_fail(diag, "cannot draw the picture: %s", cairo_status_to_string(status));
    }
    return hy_outfile_finish(out, diag);
}

/* From paper to ink: lightness falls evenly (so grey prints keep the order), by way of green-blue to a dark blue.
 * OKLab (Ottosson 2020) to sRGB; t from 0 to 1. */
unsigned hy_shade(double share)
{
    /* steps of a decibel: finer ones can't be told apart, and make the files half as large again */
    double t = floor((share < 0 ? 0 : share > 1 ? 1 : share) * 63 + 0.5) / 63;
    double lightness = 0.99 - 0.79 * t;
    double hue = (175 + 95 * t) * 3.14159265358979323846 / 180;
    double chroma = 0.105 * sqrt(t) * (1 - 0.55 * t);
    double a = chroma * cos(hue);
    double b = chroma * sin(hue);
    double l = pow(lightness + 0.3963377774 * a + 0.2158037573 * b, 3);
    double m = pow(lightness - 0.1055613458 * a - 0.0638541728 * b, 3);
    double s = pow(lightness - 0.0894841775 * a - 1.2914855480 * b, 3);
    double linear[3] = {4.0767416621 * l - 3.3077115913 * m + 0.2309699292 * s,
                        -1.2684380046 * l + 2.6097574011 * m - 0.3413193965 * s,
                        -0.0041960863 * l - 0.7034186147 * m + 1.7076147010 * s};
    unsigned rgb = 0;
    for (int i = 0; i < 3; i++) {
        double v = linear[i] <= 0.0031308 ? 12.92 * linear[i] : 1.055 * pow(linear[i], 1 / 2.4) - 0.055;
        v = v < 0 ? 0 : v > 1 ? 1 : v;
        rgb = rgb << 8 | (unsigned)(v * 255 + 0.5);
    }
    return rgb;
}

double hy_emphasised(double power, double hz)
{
    return power * (hz * hz + EMPHASIS_HZ * EMPHASIS_HZ);
}

double hy_nice_step(double range, int most)
{
    double rough = range / most;
    double power = pow(10, floor(log10(rough)));
    double part = rough / power;
    const double slack = 1 + 1e-9;
    return power * (part <= slack ? 1 : part <= 2 * slack ? 2 : part <= 5 * slack ? 5 : 10);
}
