/* Pictures within the page: SVG as it stands, PNG as data. */
#include <stdlib.h>
#include <string.h>

#include "report_private.h"

static void open_figure(hy_report *report)
{
    hy_report_close_table(report);
    report->pictures++;
    fputs("<figure><div class=\"frame\">", report->out);
}

static void close_figure(hy_report *report, const char *caption)
{
    fputs("</div>", report->out);
    if (caption != NULL) {
        fputs("<figcaption>", report->out);
        hy_report_put(report->out, caption);
        fputs("</figcaption>", report->out);
    }
    fputs("</figure>\n", report->out);
}

/* Where a name of an element begins: every picture by cairo calls its first glyph the same. Returns the length of what
 * stands ahead of the name, or 0. */
static size_t before_name(const char *s)
{
    static const char *const places[] = {" id=\"", " id='", "href=\"#", "href='#", "url(#"};
    for (size_t i = 0; i < sizeof places / sizeof places[0]; i++) {
        size_t length = strlen(places[i]);
        if (strncmp(s, places[i], length) == 0) {
            return length;
        }
    }
    return 0;
}

/* Screens narrower than the picture would make its text unreadable: a wide one keeps its width there and scrolls. */
static int is_broad(const char *svg)
{
    const char *end = strchr(svg, '>');
    const char *width = strstr(svg, " width=\"");
    return width != NULL && end != NULL && width < end && strtod(width + strlen(" width=\""), NULL) > 480.0;
}

void hy_report_svg(hy_report *report, const char *alt, const char *caption, const char *svg)
{
    const char *at = report != NULL && svg != NULL ? strstr(svg, "<svg") : NULL;
    if (at == NULL) {
        return;
    }
    open_figure(report);
    fprintf(report->out, "<div role=\"img\" class=\"%s\" aria-label=\"", is_broad(at) ? "broad" : "small");
    hy_report_put(report->out, alt);
    fputs("\">", report->out);
    while (*at != '\0') {
        size_t ahead = before_name(at);
        if (ahead > 0) {
            fwrite(at, 1, ahead, report->out);
            fprintf(report->out, "p%u-", report->pictures);
            at += ahead;
        } else {
            fputc(*at++, report->out);
        }
    }
    fputs("</div>", report->out);
    close_figure(report, caption);
}

static void put_base64(FILE *out, const unsigned char *bytes, size_t size)
{
    static const char digits[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    for (size_t i = 0; i < size; i += 3) {
        size_t have = size - i < 3 ? size - i : 3;
        unsigned word = (unsigned)bytes[i] << 16;
        word |= have > 1 ? (unsigned)bytes[i + 1] << 8 : 0;
        word |= have > 2 ? (unsigned)bytes[i + 2] : 0;
        const char four[4] = {digits[word >> 18], digits[word >> 12 & 63], have > 1 ? digits[word >> 6 & 63] : '=',
                              have > 2 ? digits[word & 63] : '='};
        fwrite(four, 1, sizeof four, out);
    }
}

/* The width in a PNG's header: 16 bytes in, big-endian. */
static unsigned png_width(const unsigned char *bytes, size_t size)
{
    return size < 24 ? 0
                     : (unsigned)bytes[16] << 24 | (unsigned)bytes[17] << 16 | (unsigned)bytes[18] << 8 | bytes[19];
}

void hy_report_png(hy_report *report, const char *alt, const char *caption, const unsigned char *bytes, size_t size)
{
    if (report == NULL || bytes == NULL || size == 0) {
        return;
    }
    open_figure(report);
    fprintf(report->out, "<img class=\"%s\" alt=\"", png_width(bytes, size) > 480 ? "broad" : "small");
    hy_report_put(report->out, alt);
    fputs("\" src=\"data:image/png;base64,", report->out);
    put_base64(report->out, bytes, size);
    fputs("\"/>", report->out);
    close_figure(report, caption);
}

static cairo_status_t keep(void *out, const unsigned char *bytes, unsigned size)
{
    return fwrite(bytes, 1, size, out) == size ? CAIRO_STATUS_SUCCESS : CAIRO_STATUS_WRITE_ERROR;
}

int hy_report_surface(hy_report *report, const char *alt, const char *caption, cairo_surface_t *surface,
                      hy_diag *diag)
{
    if (report == NULL) {
        return 0;
    }
    char *bytes = NULL;
    size_t size = 0;
    FILE *memory = open_memstream(&bytes, &size);
    if (memory == NULL) {
        return hy_fail(diag, "memory is short: no picture in the report");
    }
    cairo_status_t status = cairo_surface_write_to_png_stream(surface, keep, memory);
    int closed = fclose(memory);
    int result = 0;
    if (status != CAIRO_STATUS_SUCCESS || closed != 0) {
        result = hy_fail(diag, "cannot draw the report's picture: %s", cairo_status_to_string(status));
    } else {
        hy_report_png(report, alt, caption, (const unsigned char *)bytes, size);
    }
    free(bytes);
    return result;
}
