#include <math.h>
#include <stdio.h>

#include "picture_private.h"
#include "score.h"

#define LARGE 15
#define IPA_SIZE 14.5

/* A phoneme that is at least about a column wide: from the last latch of one column to the first of the next. */
typedef struct span {
    double left, right;
    unsigned code;
    int next; /* column in which the following span starts, HY_COLUMNS: none */
} span;

static int next_latch(const hy_picture *picture, int column)
{
    while (column < HY_COLUMNS && picture->column[column].latches == 0) {
        column++;
    }
    return column;
}

static span span_from(const hy_picture *picture, int column)
{
    int next = next_latch(picture, column + 1);
    int64_t end = next < HY_COLUMNS ? picture->column[next].first_latch_ps : picture->duration;
    return (span){hy_picture_x(picture, picture->column[column].last_latch_ps), hy_picture_x(picture, end),
                  picture->column[column].last_code, next};
}

static int fits(cairo_t *cr, const span *s, double size, int bold, const char *text)
{
    return text[0] != '\0' && hy_text_width(cr, size, bold, text) + 4 <= s->right - s->left;
}

/* How the names of one picture are written: alike, so that only what is too narrow goes without. */
typedef struct style {
    double size;     /* of symbols */
    int code_offset; /* 0: with 0x; 2: without */
    uint64_t shown;
} style;

static void code_of(const span *s, char text[8])
{
    snprintf(text, 8, "0x%02x", s->code & 63);
}

static style choose_style(cairo_t *cr, const hy_picture *picture)
{
    uint64_t large = 0;
    uint64_t small = 0;
    uint64_t long_codes = 0;
    uint64_t short_codes = 0;
    for (int column = next_latch(picture, 0); column < HY_COLUMNS;) {
        span s = span_from(picture, column);
        char code[8];
        code_of(&s, code);
        large += (uint64_t)fits(cr, &s, LARGE, 1, hy_symbols[s.code].symbol);
        small += (uint64_t)fits(cr, &s, HY_NORMAL, 1, hy_symbols[s.code].symbol);
        long_codes += (uint64_t)fits(cr, &s, HY_SMALL, 0, code);
        short_codes += (uint64_t)fits(cr, &s, HY_SMALL, 0, code + 2);
        column = s.next;
    }
    return (style){large == small ? LARGE : HY_NORMAL, long_codes == short_codes ? 0 : 2, small};
}

static void name(cairo_t *cr, hy_strip strip, const span *s, const style *how)
{
    const hy_symbol *symbol = &hy_symbols[s->code];
    double middle = (s->left + s->right) / 2;
    char code[8];
    if (!fits(cr, s, how->size, 1, symbol->symbol)) {
        return;
    }
    hy_text(cr, middle, strip.y + 16, 0.5, how->size, 1, HY_INK, symbol->symbol);
    if (fits(cr, s, IPA_SIZE, 0, symbol->ipa) && hy_text_possible(cr, IPA_SIZE, symbol->ipa)) {
        hy_text(cr, middle, strip.y + 34, 0.5, IPA_SIZE, 0, HY_INK, symbol->ipa);
    }
    code_of(s, code);
    if (fits(cr, s, HY_SMALL, 0, code + how->code_offset)) {
        hy_text(cr, middle, strip.y + 50, 0.5, HY_SMALL, 0, HY_SOFT, code + how->code_offset);
    }
}

static void line_down(cairo_t *cr, double x, double y, double bottom, unsigned rgb, double alpha)
{
    hy_set_colour(cr, rgb, alpha);
    cairo_rectangle(cr, floor(x), y, 1, bottom - y);
    cairo_fill(cr);
}

void hy_draw_phonemes(cairo_t *cr, const hy_picture *picture, hy_strip strip, double bottom)
{
    const double wide = 9; /* between lines that stand closer the spectrum could not be seen */
    double width_before = wide;
    double foot = strip.y + strip.height;
    style how = choose_style(cr, picture);
    hy_strip_name(cr, (hy_strip){strip.y + 5, strip.height}, "Phonemes", NULL);
    for (int column = next_latch(picture, 0); column < HY_COLUMNS;) {
        span s = span_from(picture, column);
        int roomy = width_before >= wide && s.right - s.left >= wide;
        line_down(cr, s.left, roomy ? strip.y : foot - 8, foot, HY_SOFT, roomy ? 0.8 : 0.5);
        if (roomy) {
            line_down(cr, s.left, foot, bottom, HY_INK, 0.28);
        }
        name(cr, strip, &s, &how);
        width_before = s.right - s.left;
        column = s.next;
    }
    if (how.shown == 0 && picture->latches > 0) {
        char text[96];
        snprintf(text, sizeof text, "%llu phonemes, too close together to be named at this scale",
                 (unsigned long long)picture->latches);
        double middle = HY_PLOT_X + HY_COLUMNS / 2.0;
        double width = hy_text_width(cr, HY_STRONG, 0, text) + 16;
        hy_set_colour(cr, HY_PAPER, 1); /* a mark's line may pass here */
        cairo_rectangle(cr, middle - width / 2, strip.y + 10, width, 24);
        cairo_fill(cr);
        hy_text(cr, middle, strip.y + 26, 0.5, HY_STRONG, 0, HY_SOFT, text);
    }
}

static double next_mark_x(const hy_picture *picture, int column)
{
    for (column++; column < HY_COLUMNS; column++) {
        if (picture->column[column].mark != NULL) {
            return hy_picture_x(picture, picture->column[column].mark_ps);
        }
    }
    return HY_PLOT_X + HY_COLUMNS + 80; /* the margin is free */
}

void hy_draw_marks(cairo_t *cr, const hy_picture *picture, hy_strip strip, double bottom)
{
    int any = 0;
    double free_from = HY_PLOT_X; /* right end of what is written already */
    for (int column = 0; column < HY_COLUMNS; column++) {
        const hy_column *c = &picture->column[column];
        if (c->mark == NULL) {
            continue;
        }
        any = 1;
        double x = floor(hy_picture_x(picture, c->mark_ps)) + 0.5;
        x = x > HY_PLOT_X + HY_COLUMNS ? HY_PLOT_X + HY_COLUMNS - 0.5 : x;
        const double dash[] = {3, 3};
        hy_set_colour(cr, HY_FLAG, 0.7);
        cairo_set_line_width(cr, 1);
        cairo_set_dash(cr, dash, 2, 0);
        cairo_move_to(cr, x, strip.y + 12);
        cairo_line_to(cr, x, bottom);
        cairo_stroke(cr);
        cairo_set_dash(cr, NULL, 0, 0);
        hy_set_colour(cr, HY_FLAG, 1);
        cairo_move_to(cr, x - 0.5, strip.y + 3);
        cairo_line_to(cr, x + 7.5, strip.y + 7.5);
        cairo_line_to(cr, x - 0.5, strip.y + 12);
        cairo_fill(cr);
        double width = hy_text_width(cr, HY_NORMAL, 0, c->mark);
        double room = next_mark_x(picture, column) - x - 16;
        if (width > room && x - 5 - width > free_from) {
            hy_text(cr, x - 5, strip.y + 12, 1, HY_NORMAL, 0, HY_FLAG, c->mark);
        } else {
            width = hy_text_within(cr, x + 10, strip.y + 12, HY_NORMAL, 0, HY_FLAG, c->mark, room);
            free_from = x + 16 + width;
        }
    }
    if (any) {
        hy_strip_name(cr, strip, "Marks", NULL);
    }
}
