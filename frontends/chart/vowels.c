#include "vowels.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "csvrows.h"
#include "number.h"

/* Made by hyoid_embed (embed.cmake). */
extern const unsigned char hy_peterson_barney_csv[];
extern const size_t hy_peterson_barney_csv_size;

typedef struct reading {
    hy_vowel *vowels;
    size_t count;
} reading;

enum { GROUP, ARPABET, IPA, F1 = 6, F2 = 7, F1_SD = 10, F2_SD = 11 };

static double hz_of(const hy_cell *cell)
{
    hy_decimal decimal;
    size_t length = strlen(cell->text);
    return length > 0 && hy_decimal_read(cell->text, length, 0, &decimal) == length ? hy_decimal_double(&decimal, 0)
                                                                                    : NAN;
}

static int take_row(void *user, const hy_cell *cells, hy_diag *diag)
{
    reading *r = user;
    if (strcmp(cells[GROUP].text, "men") != 0) {
        return 0;
    }
    if (r->count == HY_VOWELS) {
        return hy_fail(diag, "peterson_barney_1952.csv: more than %d vowels of men", HY_VOWELS);
    }
    hy_vowel *v = &r->vowels[r->count++];
    snprintf(v->symbol, sizeof v->symbol, "%s", cells[ARPABET].text);
    for (char *c = v->symbol; *c != '\0'; c++) {
        *c = (char)(*c >= 'A' && *c <= 'Z' ? *c - 'A' + 'a' : *c);
    }
    snprintf(v->ipa, sizeof v->ipa, "%s", cells[IPA].text);
    v->f1 = hz_of(&cells[F1]);
    v->f2 = hz_of(&cells[F2]);
    v->f1_sd = hz_of(&cells[F1_SD]);
    v->f2_sd = hz_of(&cells[F2_SD]);
    return isfinite(v->f1 + v->f2 + v->f1_sd + v->f2_sd)
               ? 0
               : hy_fail(diag, "peterson_barney_1952.csv: %s has no figures", v->symbol);
}

int hy_vowels_read(hy_vowel vowels[HY_VOWELS], hy_diag *diag)
{
    static const char *const columns[] = {"group",
                                          "arpabet",
                                          "ipa",
                                          "word",
                                          "n",
                                          "f0_mean",
                                          "f1_mean",
                                          "f2_mean",
                                          "f3_mean",
                                          "f0_sd",
                                          "f1_sd",
                                          "f2_sd",
                                          "f3_sd",
                                          "f0_published",
                                          "f1_published",
                                          "f2_published",
                                          "f3_published",
                                          "source_means",
                                          "source_published"};
    reading r = {vowels, 0};
    const hy_csv csv = {.name = "peterson_barney_1952.csv",
                        .columns = columns,
                        .column_count = sizeof columns / sizeof columns[0],
                        .row = take_row,
                        .user = &r};
    char *arena = malloc(hy_peterson_barney_csv_size + 1);
    if (arena == NULL) {
        return hy_fail(diag, "out of memory");
    }
    int status = hy_csv_read(&csv, (const char *)hy_peterson_barney_csv, hy_peterson_barney_csv_size, arena, diag);
    free(arena);
    if (status == 0 && r.count < HY_VOWELS) {
        status = hy_fail(diag, "peterson_barney_1952.csv: less than %d vowels of men", HY_VOWELS);
    }
    return status;
}

int hy_row_is_vowel(const hy_chart_row *row)
{
    return strchr("aeiou", row->symbol->symbol[0]) != NULL && isfinite(row->measured.f1) &&
           isfinite(row->measured.f2);
}

/* ---- the plane ---- */

typedef struct plane {
    hy_box plot;
    double f1_low, f1_high, f2_low, f2_high; /* Hz */
    hy_box taken[160];                       /* by dots and labels */
    size_t taken_count;
    double dot_x[80], dot_y[80]; /* a label shall stand nearer to its own than to any other */
    size_t dots;
} plane;

/* As the mouth lies, with the lips to the left: F2 falls to the right, F1 rises downward. Logarithmic, as pitch is heard. */
static double x_of(const plane *p, double f2)
{
    return p->plot.x + p->plot.width * log(p->f2_high / f2) / log(p->f2_high / p->f2_low);
}

static double y_of(const plane *p, double f1)
{
    return p->plot.y + p->plot.height * log(f1 / p->f1_low) / log(p->f1_high / p->f1_low);
}

static void widen(plane *p, double f1, double f2)
{
    p->f1_low = fmin(p->f1_low, f1);
    p->f1_high = fmax(p->f1_high, f1);
    p->f2_low = fmin(p->f2_low, f2);
    p->f2_high = fmax(p->f2_high, f2);
}

static void set_axes(plane *p, const hy_chart *chart, const hy_vowel *vowels)
{
    p->f1_low = p->f2_low = INFINITY;
    p->f1_high = p->f2_high = 0;
    for (int i = 0; i < HY_VOWELS; i++) {
        widen(p, vowels[i].f1 - vowels[i].f1_sd, vowels[i].f2 - vowels[i].f2_sd);
        widen(p, vowels[i].f1 + vowels[i].f1_sd, vowels[i].f2 + vowels[i].f2_sd);
    }
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        if (hy_row_is_vowel(&chart->row[code])) {
            widen(p, chart->row[code].measured.f1, chart->row[code].measured.f2);
        }
    }
    p->f1_low *= 0.94;
    p->f1_high *= 1.06;
    p->f2_low *= 0.94;
    p->f2_high *= 1.06;
}

static void tick(cairo_t *cr, const plane *p, double hz, int vertical)
{
    char text[16];
    double at = floor(vertical ? y_of(p, hz) : x_of(p, hz));
    snprintf(text, sizeof text, "%.0f", hz);
    hy_set_colour(cr, HY_GRID, 1);
    if (vertical) {
        cairo_rectangle(cr, p->plot.x, at, p->plot.width, 1);
    } else {
        cairo_rectangle(cr, at, p->plot.y, 1, p->plot.height);
    }
    cairo_fill(cr);
    if (vertical) {
        hy_text(cr, p->plot.x - 8, at + 4, 1, HY_NORMAL, 0, HY_SOFT, text);
    } else {
        hy_text(cr, at, p->plot.y + p->plot.height + 17, 0.5, HY_NORMAL, 0, HY_SOFT, text);
    }
}

static void axes(cairo_t *cr, const plane *p)
{
    double step = hy_nice_step(p->f1_high - p->f1_low, 8);
    for (double i = ceil(p->f1_low / step); i * step <= p->f1_high; i++) {
        tick(cr, p, i * step, 1);
    }
    step = hy_nice_step(p->f2_high - p->f2_low, 12);
    for (double i = ceil(p->f2_low / step); i * step <= p->f2_high; i++) {
        tick(cr, p, i * step, 0);
    }
    hy_set_colour(cr, HY_RULE, 1);
    cairo_set_line_width(cr, 1);
    cairo_rectangle(cr, p->plot.x - 0.5, p->plot.y - 0.5, p->plot.width + 1, p->plot.height + 1);
    cairo_stroke(cr);
    hy_text(cr, p->plot.x - 8, p->plot.y - 10, 1, HY_NORMAL, 1, HY_INK, "F1, Hz");
    hy_text(cr, p->plot.x + p->plot.width, p->plot.y + p->plot.height + 36, 1, HY_NORMAL, 1, HY_INK, "F2, Hz");
}

static void take_place(plane *p, hy_box box)
{
    if (p->taken_count < sizeof p->taken / sizeof p->taken[0]) {
        p->taken[p->taken_count++] = box;
    }
}

static void take_dot(plane *p, double x, double y)
{
    take_place(p, (hy_box){x - 6, y - 6, 12, 12});
    if (p->dots < sizeof p->dot_x / sizeof p->dot_x[0]) {
        p->dot_x[p->dots] = x;
        p->dot_y[p->dots++] = y;
    }
}

/* How much of a box others take already, how near it comes to dots that are not its own, how much lies outside the plot. */
static double crowding(const plane *p, hy_box b, double x, double y)
{
    double sum = 0;
    for (size_t i = 0; i < p->dots; i++) {
        double across = fmax(fmax(b.x - p->dot_x[i], p->dot_x[i] - b.x - b.width), 0);
        double down = fmax(fmax(b.y - p->dot_y[i], p->dot_y[i] - b.y - b.height), 0);
        int own = hypot(p->dot_x[i] - x, p->dot_y[i] - y) < 1;
        sum += own ? 0 : 6 * fmax(16 - hypot(across, down), 0);
    }
    for (size_t i = 0; i < p->taken_count; i++) {
        const hy_box *t = &p->taken[i];
        double w = fmin(b.x + b.width, t->x + t->width) - fmax(b.x, t->x);
        double h = fmin(b.y + b.height, t->y + t->height) - fmax(b.y, t->y);
        sum += w > 0 && h > 0 ? w * h : 0;
    }
    int inside = b.x >= p->plot.x && b.y >= p->plot.y && b.x + b.width <= p->plot.x + p->plot.width &&
                 b.y + b.height <= p->plot.y + p->plot.height;
    return sum + (inside ? 0 : 1000);
}

/* Beside a dot, where there is most room. */
static void label(cairo_t *cr, plane *p, double x, double y, double size, int bold, unsigned rgb, const char *text)
{
    static const double around[][2] = {{1, 0},       {-1, 0},     {0, -1},     {0, 1},       {0.7, -0.7},
                                       {-0.7, -0.7}, {0.7, 0.7},  {-0.7, 0.7}, {1.6, -0.9},  {-1.6, -0.9},
                                       {1.6, 0.9},   {-1.6, 0.9}, {0.4, -1.9}, {-0.4, -1.9}, {0.4, 1.9}};
    double width = hy_text_width(cr, size, bold, text);
    double height = size;
    hy_box best = {0, 0, width, height};
    double least = INFINITY;
    for (size_t i = 0; i < sizeof around / sizeof around[0]; i++) {
        hy_box b = {x + around[i][0] * (9 + width / 2) - width / 2, y + around[i][1] * (8 + height / 2) - height / 2,
                    width, height};
        double here = crowding(p, b, x, y) + 0.01 * (double)i;
        if (here < least) {
            least = here;
            best = b;
        }
    }
    take_place(p, (hy_box){best.x - 2, best.y - 1, best.width + 4, best.height + 2});
    hy_text(cr, best.x, best.y + 0.85 * height, 0, size, bold, rgb, text);
}

static void dot(cairo_t *cr, double x, double y, double radius, int filled, unsigned rgb)
{
    hy_set_colour(cr, rgb, 1);
    cairo_set_line_width(cr, 1.6);
    cairo_arc(cr, x, y, radius, 0, 2 * 3.14159265358979323846);
    if (filled) {
        cairo_fill(cr);
    } else {
        cairo_stroke(cr);
    }
}

/* One standard deviation of the speakers. */
static void spread(cairo_t *cr, const plane *p, const hy_vowel *v)
{
    for (int i = 0; i < 64; i++) {
        double turn = 2 * 3.14159265358979323846 * i / 64;
        cairo_line_to(cr, x_of(p, v->f2 + v->f2_sd * cos(turn)), y_of(p, v->f1 + v->f1_sd * sin(turn)));
    }
    cairo_close_path(cr);
    hy_set_colour(cr, HY_WARM, 0.10);
    cairo_fill(cr);
}

/* The corners of the published quadrilateral. */
static void outline(cairo_t *cr, const plane *p, const hy_vowel *vowels)
{
    static const char *const corners[] = {"iy", "ae", "aa", "uw"};
    for (size_t c = 0; c < 4; c++) {
        for (int i = 0; i < HY_VOWELS; i++) {
            if (strcmp(vowels[i].symbol, corners[c]) == 0) {
                cairo_line_to(cr, x_of(p, vowels[i].f2), y_of(p, vowels[i].f1));
            }
        }
    }
    cairo_close_path(cr);
    hy_set_colour(cr, HY_WARM, 0.45);
    cairo_set_line_width(cr, 1);
    cairo_stroke(cr);
}

/* A code that stands where one of its symbol was drawn already is not drawn again. */
static int drawn_before(const plane *p, const hy_chart *chart, unsigned code)
{
    const hy_chart_row *r = &chart->row[code];
    for (unsigned other = 0; other < code; other++) {
        const hy_chart_row *o = &chart->row[other];
        if (hy_row_is_vowel(o) && strcmp(o->symbol->symbol, r->symbol->symbol) == 0 &&
            hypot(x_of(p, o->measured.f2) - x_of(p, r->measured.f2),
                  y_of(p, o->measured.f1) - y_of(p, r->measured.f1)) < 5) {
            return 1;
        }
    }
    return 0;
}

/* "eh", or "eh/185" if codes of the symbol stand at different places. */
static void name_of(const plane *p, const hy_chart *chart, unsigned code, char *text, size_t size)
{
    const hy_symbol *own = chart->row[code].symbol;
    int places = 0;
    for (unsigned other = 0; other < HYOID_PHONEMES; other++) {
        const hy_chart_row *o = &chart->row[other];
        places += hy_row_is_vowel(o) && strcmp(o->symbol->symbol, own->symbol) == 0 && !drawn_before(p, chart, other);
    }
    if (places > 1) {
        snprintf(text, size, "%s/%d", own->symbol, own->nominal_ms);
    } else {
        snprintf(text, size, "%s", own->symbol);
    }
}

/* From a published mean to where the part speaks that vowel. */
static void miss(cairo_t *cr, const plane *p, const hy_chart_row *r, const hy_vowel *vowels)
{
    for (int i = 0; i < HY_VOWELS; i++) {
        if (strcmp(vowels[i].symbol, r->symbol->symbol) == 0) {
            cairo_move_to(cr, x_of(p, vowels[i].f2), y_of(p, vowels[i].f1));
            cairo_line_to(cr, x_of(p, r->measured.f2), y_of(p, r->measured.f1));
            hy_set_colour(cr, HY_SOFT, 0.7);
            cairo_set_line_width(cr, 1.2);
            cairo_stroke(cr);
        }
    }
}

void hy_draw_vowels(cairo_t *cr, const hy_chart *chart, const hy_vowel vowels[HY_VOWELS], hy_box plot)
{
    plane p = {.plot = plot};
    set_axes(&p, chart, vowels);
    axes(cr, &p);
    outline(cr, &p, vowels);
    for (int i = 0; i < HY_VOWELS; i++) {
        spread(cr, &p, &vowels[i]);
        take_dot(&p, x_of(&p, vowels[i].f2), y_of(&p, vowels[i].f1));
    }
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        const hy_chart_row *r = &chart->row[code];
        if (hy_row_is_vowel(r) && !drawn_before(&p, chart, code)) {
            miss(cr, &p, r, vowels);
            take_dot(&p, x_of(&p, r->measured.f2), y_of(&p, r->measured.f1));
        }
    }
    for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
        const hy_chart_row *r = &chart->row[code];
        if (hy_row_is_vowel(r) && !drawn_before(&p, chart, code)) {
            char text[16];
            name_of(&p, chart, code, text, sizeof text);
            dot(cr, x_of(&p, r->measured.f2), y_of(&p, r->measured.f1), 4, 1, HY_INK);
            label(cr, &p, x_of(&p, r->measured.f2), y_of(&p, r->measured.f1), 15, 1, HY_INK, text);
        }
    }
    for (int i = 0; i < HY_VOWELS; i++) {
        dot(cr, x_of(&p, vowels[i].f2), y_of(&p, vowels[i].f1), 5, 0, HY_WARM);
        label(cr, &p, x_of(&p, vowels[i].f2), y_of(&p, vowels[i].f1), 15, 0, HY_WARM, vowels[i].ipa);
    }
}
