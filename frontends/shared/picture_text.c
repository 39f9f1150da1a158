#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "picture_private.h"

void hy_set_colour(cairo_t *cr, unsigned rgb, double alpha)
{
    cairo_set_source_rgba(cr, (rgb >> 16 & 255) / 255.0, (rgb >> 8 & 255) / 255.0, (rgb & 255) / 255.0, alpha);
}

static void select_font(cairo_t *cr, double size, int bold)
{
    cairo_select_font_face(cr, "DejaVu Sans", CAIRO_FONT_SLANT_NORMAL,
                           bold ? CAIRO_FONT_WEIGHT_BOLD : CAIRO_FONT_WEIGHT_NORMAL);
    cairo_set_font_size(cr, size);
}

double hy_text_width(cairo_t *cr, double size, int bold, const char *text)
{
    cairo_text_extents_t extents;
    select_font(cr, size, bold);
    cairo_text_extents(cr, text, &extents);
    return extents.x_advance;
}

void hy_text(cairo_t *cr, double x, double y, double align, double size, int bold, unsigned rgb, const char *text)
{
    double width = hy_text_width(cr, size, bold, text);
    hy_set_colour(cr, rgb, 1);
    cairo_move_to(cr, x - align * width, y);
    cairo_show_text(cr, text);
    cairo_new_path(cr);
}

double hy_text_within(cairo_t *cr, double x, double y, double size, int bold, unsigned rgb, const char *text,
                      double width)
{
    double whole = hy_text_width(cr, size, bold, text);
    if (whole <= width) {
        hy_text(cr, x, y, 0, size, bold, rgb, text);
        return whole;
    }
    static const char ellipsis[] = "\u2026";
    size_t length = strlen(text);
    char *cut = malloc(length + sizeof ellipsis);
    double used = 0;
    while (cut != NULL && length > 0 && used == 0) {
        do { /* to the start of a character */
            length--;
        } while (length > 0 && ((unsigned char)text[length] & 0xc0) == 0x80);
        memcpy(cut, text, length);
        memcpy(cut + length, ellipsis, sizeof ellipsis);
        double w = hy_text_width(cr, size, bold, cut);
        if (length > 0 && w <= width) {
            hy_text(cr, x, y, 0, size, bold, rgb, cut);
            used = w;
        }
    }
    free(cut);
    return used;
}

int hy_text_possible(cairo_t *cr, double size, const char *text)
{
    cairo_glyph_t *glyphs = NULL;
    int count = 0;
    select_font(cr, size, 0);
    cairo_status_t status = cairo_scaled_font_text_to_glyphs(cairo_get_scaled_font(cr), 0, 0, text, -1, &glyphs,
                                                             &count, NULL, NULL, NULL);
    int possible = status == CAIRO_STATUS_SUCCESS && count > 0;
    for (int i = 0; possible && i < count; i++) {
        possible = glyphs[i].index != 0;
    }
    cairo_glyph_free(glyphs);
    return possible;
}

/* Length of the valid UTF-8 character at `c`, or 0. */
static size_t character(const unsigned char *c)
{
    if (c[0] < 0x80) {
        return 1;
    }
    size_t size = c[0] >= 0xf0 ? 4 : c[0] >= 0xe0 ? 3 : 2;
    if (c[0] < 0xc2 || c[0] > 0xf4) {
        return 0;
    }
    for (size_t i = 1; i < size; i++) {
        if ((c[i] & 0xc0) != 0x80) {
            return 0;
        }
    }
    int overlong = (c[0] == 0xe0 && c[1] < 0xa0) || (c[0] == 0xf0 && c[1] < 0x90);
    int beyond = (c[0] == 0xed && c[1] > 0x9f) || (c[0] == 0xf4 && c[1] > 0x8f);
    return overlong || beyond ? 0 : size;
}

char *hy_text_clean(const char *text)
{
    char *clean = malloc(strlen(text) + 1);
    if (clean == NULL) {
        return NULL;
    }
    size_t used = 0;
    for (const unsigned char *c = (const unsigned char *)text; *c != '\0';) {
        size_t size = character(c);
        if (size == 0 || *c < 0x20 || *c == 0x7f) {
            clean[used++] = *c == '\t' ? ' ' : '?';
            c++;
            continue;
        }
        memcpy(clean + used, c, size);
        used += size;
        c += size;
    }
    clean[used] = '\0';
    return clean;
}

void hy_strip_name(cairo_t *cr, hy_strip strip, const char *name, const char *unit)
{
    double y = strip.height < 40 ? strip.y + strip.height / 2 + 5 : strip.y + 11;
    hy_text(cr, 20, y, 0, HY_STRONG, 1, HY_INK, name);
    if (unit != NULL) {
        hy_text(cr, 20, y + 17, 0, HY_NORMAL, 0, HY_SOFT, unit);
    }
}

void hy_strip_frame(cairo_t *cr, hy_strip strip)
{
    hy_set_colour(cr, HY_RULE, 1);
    cairo_set_line_width(cr, 1);
    cairo_rectangle(cr, HY_PLOT_X - 0.5, strip.y - 0.5, HY_COLUMNS + 1, strip.height + 1);
    cairo_stroke(cr);
}
