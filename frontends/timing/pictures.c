#include "pictures.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { WIDTH = 760, LEFT = 78, RIGHT = 12, LANE = 34, HIGH = 18, TOP = 10 };

#define TEXT "font-family=\"sans-serif\" font-size=\"11\" fill=\"#333\""

/* ---- reading again ---- */

typedef struct filling {
    hy_trace *traces;
    unsigned count;
    hy_bus_step last;
} filling;

static int fill_step(void *user, const hy_bus_step *step)
{
    filling *f = user;
    for (unsigned i = 0; i < f->count; i++) {
        hy_trace *t = &f->traces[i];
        if (step->ps > t->to || step->ps < t->from) {
            continue;
        }
        if (t->count == 0) { /* how the pins stood when it begins */
            t->step[t->count] = step->ps > t->from && step->ps > 0 ? f->last : *step;
            t->step[t->count++].ps = t->from;
        }
        if (t->count < HY_TRACE_STEPS) {
            t->step[t->count++] = *step;
        } else {
            t->cut = 1;
        }
    }
    f->last = *step;
    return 0;
}

int hy_traces_fill(hy_trace *traces, unsigned count, FILE *in, const char *name, const char *map, double sample_hz,
                   int64_t glitch, hy_diag *diag)
{
    filling f = {.traces = traces, .count = count};
    char *text = NULL;
    double rate = 0.0;
    hy_capture_map wires;
    hy_waves *waves = NULL;
    int result = hy_capture_map_text(map, &text, &rate, diag);
    if (result == 0) {
        waves = hy_waves_open(in, name, sample_hz > 0.0 ? sample_hz : rate, diag);
        result = waves != NULL ? hy_capture_map_find(&wires, text, 0, waves, name, diag) : -1;
    }
    if (result == 0) {
        wires.wire[HY_WIRE_HZ].mapped = wires.wire[HY_WIRE_CLOCK].mapped = 0; /* they are not drawn */
        hy_bus bus = {.waves = waves, .map = &wires, .diag = diag, .glitch = glitch, .step = fill_step, .user = &f};
        result = hy_bus_run(&bus);
    }
    for (unsigned i = 0; result == 0 && i < count; i++) {
        if (traces[i].count == 0) {
            traces[i].step[traces[i].count++] = f.last;
            traces[i].step[0].ps = traces[i].from;
        }
    }
    free(text);
    hy_waves_close(waves);
    return result;
}

/* ---- pins ---- */

static double x_of(const hy_trace *t, int64_t ps)
{
    double share = (double)(ps - t->from) / (double)(t->to - t->from);
    return LEFT + share * (WIDTH - LEFT - RIGHT);
}

static void lane_name(FILE *out, double y, const char *name)
{
    fprintf(out, "<text x=\"%d\" y=\"%.1f\" text-anchor=\"end\" " TEXT ">%s</text>\n", LEFT - 8, y + HIGH - 4.0,
            name);
}

static void draw_level(FILE *out, const hy_trace *t, unsigned bit, double y, const char *name)
{
    lane_name(out, y, name);
    unsigned level = t->step[0].levels & bit;
    fprintf(out, "<path fill=\"none\" stroke=\"#1f5f99\" stroke-width=\"1.5\" d=\"M%d %.1f", LEFT,
            y + (level != 0 ? 0.0 : HIGH));
    for (unsigned i = 1; i < t->count; i++) {
        unsigned now = t->step[i].levels & bit;
        if (now != level) {
            fprintf(out, "H%.2fV%.1f", x_of(t, t->step[i].ps), y + (now != 0 ? 0.0 : HIGH));
            level = now;
        }
    }
    fprintf(out, "H%d\"/>\n", WIDTH - RIGHT);
    for (unsigned i = 0; i < t->count; i++) { /* where it is not known */
        if ((t->step[i].unknown & bit) != 0) {
            double from = x_of(t, t->step[i].ps);
            double to = i + 1 < t->count ? x_of(t, t->step[i + 1].ps) : WIDTH - RIGHT;
            fprintf(
                out,
                "<rect x=\"%.2f\" y=\"%.1f\" width=\"%.2f\" height=\"%d\" fill=\"#c44\" fill-opacity=\"0.35\"/>\n",
                from, y, to - from > 1.0 ? to - from : 1.0, HIGH);
        }
    }
}

/* Several bits as a band with its value in it. */
static void draw_bus(FILE *out, const hy_trace *t, unsigned mask, int shift, const char *format, double y,
                     const char *name)
{
    lane_name(out, y, name);
    for (unsigned i = 0; i < t->count;) {
        unsigned value = t->step[i].levels & mask;
        unsigned k = i + 1;
        while (k < t->count && (t->step[k].levels & mask) == value) {
            k++;
        }
        double from = x_of(t, t->step[i].ps);
        double to = k < t->count ? x_of(t, t->step[k].ps) : WIDTH - RIGHT;
        fprintf(out,
                "<rect x=\"%.2f\" y=\"%.1f\" width=\"%.2f\" height=\"%d\" fill=\"#eef4fa\" stroke=\"#1f5f99\" "
                "stroke-width=\"1\"/>\n",
                from, y, to - from > 0.5 ? to - from : 0.5, HIGH);
        if (to - from > 34.0) {
            char text[24];
            snprintf(text, sizeof text, format, value >> shift);
            fprintf(out, "<text x=\"%.2f\" y=\"%.1f\" text-anchor=\"middle\" " TEXT ">%s</text>\n", 0.5 * (from + to),
                    y + HIGH - 4.0, text);
        }
        i = k;
    }
}

/* 1, 2 or 5 times a power of ten: about `ticks` of them in the span. */
static double round_step(double span, double ticks)
{
    double raw = span / ticks;
    double unit = pow(10.0, floor(log10(raw)));
    double share = raw / unit;
    return unit * (share < 1.5 ? 1.0 : share < 3.5 ? 2.0 : share < 7.5 ? 5.0 : 10.0);
}

static void draw_axis(FILE *out, const hy_trace *t, double y, int64_t origin)
{
    double span = (double)(t->to - t->from);
    double step = round_step(span, 6.0);
    const char *unit = step < 1e6 ? "ns" : step < 1e9 ? "\xc2\xb5s" : "ms";
    double scale = step < 1e6 ? 1e-3 : step < 1e9 ? 1e-6 : 1e-9;
    int64_t zero = t->mark >= 0 ? t->mark : t->from;
    double first = ceil((double)(t->from - zero) / step);
    for (double k = first + 0.0; k * step <= (double)(t->to - zero); k += 1.0) {
        double x = x_of(t, zero + (int64_t)(k * step));
        fprintf(out,
                "<path stroke=\"#bbb\" d=\"M%.2f %d V%.1f\"/><text x=\"%.2f\" y=\"%.1f\" text-anchor=\"middle\" " TEXT
                ">%.6g</text>\n",
                x, TOP, y, x, y + 13.0, k == 0.0 ? 0.0 : k * step * scale);
    }
    fprintf(out, "<text x=\"%d\" y=\"%.1f\" text-anchor=\"end\" " TEXT ">%s from %.9f s</text>\n", WIDTH - RIGHT,
            y + 28.0, unit, (double)(zero + origin) * 1e-12);
}

static FILE *open_svg(char **text, size_t *size, int height)
{
    FILE *out = open_memstream(text, size);
    if (out != NULL) {
        fprintf(out, "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 %d %d\" width=\"%d\" height=\"%d\">\n",
                WIDTH, height, WIDTH, height);
        fprintf(out, "<rect width=\"%d\" height=\"%d\" fill=\"#fff\"/>\n", WIDTH, height);
    }
    return out;
}

static void draw_span(FILE *out, const hy_trace *t, int64_t from, int64_t to, const char *colour)
{
    if (from < t->from || from > t->to) {
        return;
    }
    double left = x_of(t, from);
    double right = x_of(t, to > t->to ? t->to : to);
    fprintf(out, "<rect x=\"%.2f\" y=\"%d\" width=\"%.2f\" height=\"%d\" fill=\"%s\" fill-opacity=\"0.35\"/>\n", left,
            TOP - 6, right - left > 3.0 ? right - left : 3.0, 4 * LANE, colour);
}

char *hy_picture_pins(const hy_trace *t, int64_t origin)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_svg(&text, &size, TOP + 4 * LANE + 36);
    if (out == NULL) {
        return NULL;
    }
    draw_span(out, t, t->mark, t->mark_end, "#f3c94a");
    draw_span(out, t, t->allowed, t->allowed_end, "#2e8b57");
    draw_axis(out, t, TOP + 4.0 * LANE, origin);
    draw_level(out, t, HY_BUS_STROBE, TOP, "strobe");
    draw_bus(out, t, HY_BUS_CODE, 0, "0x%02x", TOP + LANE, "P5..P0");
    draw_bus(out, t, HY_BUS_INFLECTION, HY_I0, "%u", TOP + 2.0 * LANE, "I1..I0");
    draw_level(out, t, HY_BUS_REQUEST, TOP + 3.0 * LANE, "request");
    fputs("</svg>\n", out);
    fclose(out);
    return text;
}

/* ---- durations ---- */

enum { PLOT = 240 };

static double y_of(double clocks, double low, double high)
{
    double share = (high - clocks) / (high - low);
    return TOP + PLOT * (share < 0.0 ? 0.0 : share > 1.0 ? 1.0 : share);
}

char *hy_picture_durations(const hy_timing *timing, const hyoid_part *part)
{
    char *text = NULL;
    size_t size = 0;
    double clocks = part->filter_clocks;
    double low = -clocks - 0.4 * clocks;
    double high = 0.4 * clocks;
    for (unsigned i = 0; i < timing->point_count; i++) { /* up to ten limit widths are shown to scale */
        low = fmin(low, fmax(timing->points[i].clocks, -10.0 * clocks) - 0.2 * clocks);
        high = fmax(high, fmin(timing->points[i].clocks, 10.0 * clocks) + 0.2 * clocks);
    }
    FILE *out = open_svg(&text, &size, TOP + PLOT + 40);
    if (out == NULL) {
        return NULL;
    }
    double wide = WIDTH - LEFT - RIGHT;
    double top = y_of(1.0, low, high);
    double bottom = y_of(-clocks, low, high);
    fprintf(out, "<rect x=\"%d\" y=\"%.1f\" width=\"%.1f\" height=\"%.1f\" fill=\"#dff0df\"/>\n", LEFT, top, wide,
            bottom - top);
    double step = round_step(high - low, 6.0);
    for (double k = ceil(low / step); k * step <= high; k += 1.0) {
        double y = y_of(k * step, low, high);
        fprintf(out,
                "<path stroke=\"#ddd\" d=\"M%d %.1f H%d\"/><text x=\"%d\" y=\"%.1f\" text-anchor=\"end\" " TEXT
                ">%.6g</text>\n",
                LEFT, y, WIDTH - RIGHT, LEFT - 6, y + 4.0, k == 0.0 ? 0.0 : k * step);
    }
    double span = (double)timing->duration_ps * 1e-12;
    span = span > 0.0 ? span : 1.0;
    step = round_step(span, 8.0);
    for (double k = 0.0; k * step <= span; k += 1.0) {
        fprintf(out, "<text x=\"%.1f\" y=\"%d\" text-anchor=\"middle\" " TEXT ">%.6g</text>\n",
                LEFT + wide * k * step / span, TOP + PLOT + 16, k * step);
    }
    for (unsigned i = 0; i < timing->point_count; i++) {
        const hy_timing_point *p = &timing->points[i];
        fprintf(out, "<circle cx=\"%.1f\" cy=\"%.1f\" r=\"%s\" fill=\"%s\"/>\n", LEFT + wide * p->s / span,
                y_of(p->clocks, low, high), p->beyond ? "4" : "2.5", p->beyond ? "#c0392b" : "#1f5f99");
    }
    fprintf(out, "<path fill=\"none\" stroke=\"#888\" d=\"M%d %d V%d H%d\"/>\n", LEFT, TOP, TOP + PLOT,
            WIDTH - RIGHT);
    fprintf(out, "<text x=\"%d\" y=\"%d\" text-anchor=\"end\" " TEXT ">time in the capture, s</text>\n",
            WIDTH - RIGHT, TOP + PLOT + 32);
    fprintf(out,
            "<text transform=\"translate(14 %d) rotate(-90)\" text-anchor=\"middle\" " TEXT
            ">clocks off nominal</text>\n",
            TOP + PLOT / 2);
    fputs("</svg>\n", out);
    fclose(out);
    return text;
}
