#include "screen.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "../spell/rules.h"

#define SLIDER_OCTAVES 2.0 /* to either side of nominal */
#define METER_DB 48.0
#define LABEL 10 /* column at which values begin */

static double decibels(float size)
{
    return size > 1e-6F ? 20.0 * log10((double)size) : -120.0;
}

/* ---- the head ---- */

static void put_head(hy_cells *c, const hy_view *v)
{
    const hy_live_session *s = v->session;
    int k = hy_cells_put(c, 0, 1, HY_BOLD, "hyoid live");
    if (s->options.score_name != NULL) {
        k = hy_cells_print(c, 0, k + 2, HY_PLAIN, "%.30s", s->options.score_name);
        k = s->playing && !hy_live_session_quiet(s)
                ? hy_cells_put(c, 0, k + 2, HY_GOOD, "\xe2\x96\xb6 playing")
                : hy_cells_put(c, 0, k + 2, HY_DIM, s->playing ? "ended" : "paused");
    }
    if (hy_feed_babbles(s->feed) > 0) {
        k = hy_cells_put(c, 0, k + 2, HY_GOOD, "babbling");
    }
    if (s->take != NULL) {
        k = hy_cells_print(c, 0, k + 2, HY_ALARM, "\xe2\x97\x8f rec %.1f s", hy_take_seconds(s->take));
    }
    char right[80];
    snprintf(right, sizeof right, "%s%.0f ms  %llu xrun%s", s->latency_s > 0.0 ? "key to sound " : "latency ",
             s->latency_s > 0.0 ? s->latency_s * 1000.0 : v->latency_ms, (unsigned long long)v->xruns,
             v->xruns == 1 ? "" : "s");
    const int at = c->columns - (int)strlen(right) - 1;
    if (at > k + 1) {
        hy_cells_put(c, 0, at, v->xruns > 0 ? HY_WARN : HY_DIM, right);
    }
}

/* ---- the clock ---- */

static void put_clock(hy_cells *c, int row, const hy_view *v)
{
    const hy_live_session *s = v->session;
    const double nominal = s->options.part->nominal_hz, hz = s->status.hz;
    hy_cells_put(c, row, 1, HY_DIM, "clock");
    int k = hz < 1e6 ? hy_cells_print(c, row, LABEL, HY_BOLD, "%7.3f kHz", hz / 1e3)
                     : hy_cells_print(c, row, LABEL, HY_BOLD, "%7.4f MHz", hz / 1e6);
    k = hy_cells_print(c, row, k + 2, HY_PLAIN, "\xc3\x97 %.4f", hz / nominal);
    k = hz > 0.0 ? hy_cells_print(c, row, k + 2, HY_PLAIN, "%+.2f st", 12.0 * log2(hz / nominal))
                 : hy_cells_put(c, row, k + 2, HY_PLAIN, "stands");
    k = hy_cells_print(c, row, k + 2, HY_PLAIN, "tempo \xc3\x97 %.2f", hz / nominal);
    if (s->status.moving) {
        k = hy_cells_put(c, row, k + 2, HY_ACCENT, "gliding");
    }
    if (s->status.score_hz != nominal && s->status.score_hz > 0.0) {
        hy_cells_print(c, row, k + 2, HY_DIM, "score %.4gk", s->status.score_hz / 1e3);
    }
}

/* A ruler of octaves with the clock's place on it. */
static void put_slider(hy_cells *c, int row, const hy_view *v)
{
    const hy_live_session *s = v->session;
    const int left = LABEL + 2, width = c->columns - left - 5;
    if (width < 16) {
        return;
    }
    const double share =
        s->status.hz > 0.0 ? log2(s->status.hz / s->options.part->nominal_hz) / (2.0 * SLIDER_OCTAVES) + 0.5 : 0.0;
    hy_cells_put(c, row, LABEL - 1, HY_DIM, "\xc2\xbc");
    for (int i = 0; i < width; i++) {
        const int octave = (i * 4) % (width - 1) < 4 && i > 0 && i < width - 1;
        hy_cells_set(c, row, left - 1 + i, HY_DIM,
                     i == 0           ? 0x251c
                     : i == width - 1 ? 0x2524
                     : octave         ? 0x253c
                                      : 0x2500);
    }
    hy_cells_put(c, row, left + width, HY_DIM, "4");
    const double clipped = share < 0.0 ? 0.0 : share > 1.0 ? 1.0 : share;
    hy_cells_set(c, row, left - 1 + (int)(clipped * (width - 1) + 0.5), HY_ACCENT, 0x25c6);
}

/* ---- phoneme, request, settings ---- */

static void put_phoneme(hy_cells *c, int row, const hy_view *v)
{
    const hy_status *now = &v->session->status;
    const hy_symbol *symbol = &hy_symbols[now->phoneme];
    hy_cells_put(c, row, 1, HY_DIM, "phoneme");
    hy_cells_put(c, row, LABEL, HY_BOLD, hy_code_name((unsigned)now->phoneme).text);
    if (!v->ascii && symbol->ipa[0] != '\0') {
        hy_cells_print(c, row, LABEL + 8, HY_ACCENT, "%s", symbol->ipa);
    }
    hy_cells_print(c, row, LABEL + 13, HY_DIM, "0x%02x", (unsigned)now->phoneme);
    for (int i = 0; i < 16; i++) {
        hy_cells_set(c, row, LABEL + 19 + i, i < now->slot ? HY_ACCENT : HY_DIM, i < now->slot ? 0x2588 : 0x2591);
    }
    int k = hy_cells_put(c, row, LABEL + 37, HY_DIM, "request");
    k = hy_cells_put(c, row, k + 1, now->request ? HY_GOOD : HY_PLAIN, now->request ? "high" : "low ");
    hy_cells_put(c, row, k + 2, HY_DIM, now->request ? "waits for a phoneme" : "");
}

/* The last phonemes, newest at the right. */
static void put_said(hy_cells *c, int row, const hy_view *v)
{
    const hy_live_session *s = v->session;
    unsigned n = 0;
    int width = 0;
    hy_cells_put(c, row, 1, HY_DIM, "said");
    while (n < s->said_count) {
        const int more = (int)strlen(hy_symbols[s->said[n]].symbol) + 1;
        if (width + more > c->columns - LABEL - 1) {
            break;
        }
        width += more;
        n++;
    }
    for (int k = LABEL; n > 0; n--) {
        k = 1 + hy_cells_put(c, row, k, n == 1 ? HY_BOLD : HY_PLAIN, hy_symbols[s->said[n - 1]].symbol);
    }
}

static void put_settings(hy_cells *c, int row, const hy_view *v)
{
    const hy_live_session *s = v->session;
    hy_cells_put(c, row, 1, HY_DIM, "level");
    for (int i = 0; i < 4; i++) {
        const int on = s->status.level == i;
        hy_cells_print(c, row, LABEL - 1 + 3 * i, on ? HY_ACCENT : HY_DIM, on ? "[%d]" : " %d ", i);
    }
    int k = hy_cells_put(c, row, LABEL + 15, HY_DIM, "hold");
    if (s->status.hold > 0) {
        hy_cells_print(c, row, k + 1, HY_ACCENT, "%.4g ms", (double)s->status.hold / 1e9);
    } else {
        hy_cells_put(c, row, k + 1, HY_PLAIN, "off");
    }
    k = hy_cells_put(c, row, LABEL + 32, HY_DIM, "sustain");
    hy_cells_put(c, row, k + 1, s->sustain ? HY_ACCENT : HY_PLAIN, s->sustain ? "on" : "off");
    k = hy_cells_put(c, row, LABEL + 47, HY_DIM, "limiter");
    if (!s->limiter) {
        hy_cells_put(c, row, k + 1, HY_ALARM, "BYPASSED");
    } else if (s->reduction < 0.99F) {
        hy_cells_print(c, row, k + 1, HY_WARN, "on %.1f dB", decibels(s->reduction));
    } else {
        hy_cells_put(c, row, k + 1, HY_PLAIN, "on");
    }
}

static void put_meter(hy_cells *c, int row, const hy_view *v)
{
    const hy_live_session *s = v->session;
    hy_cells_put(c, row, 1, HY_DIM, "volume");
    hy_cells_print(c, row, LABEL, HY_PLAIN, "%.0f dB", s->volume_db);
    const int left = LABEL + 12, width = c->columns - left - 12;
    if (width < 8) {
        return;
    }
    const double db = decibels(s->peak), hold = decibels(s->peak_hold);
    for (int i = 0; i < width; i++) {
        const double at = ((double)(i + 1) / width - 1.0) * METER_DB;
        const hy_style style = at > -3.0 ? HY_ALARM : at > -12.0 ? HY_WARN : HY_GOOD;
        hy_cells_set(c, row, left + i, at <= db ? style : HY_DIM, at <= db ? 0x2588 : 0x2591);
    }
    if (hold > -METER_DB) {
        const int i = (int)((hold / METER_DB + 1.0) * width);
        hy_cells_set(c, row, left + (i < width ? i : width - 1), HY_BOLD, 0x2502);
    }
    if (db > -99.0) {
        hy_cells_print(c, row, left + width + 1, HY_PLAIN, "%6.1f dB", db);
    }
}

/* ---- the foot ---- */

static void put_keys(hy_cells *c, int row, const hy_view *v)
{
    static const char *const lines[2][2] = {
        {"space play  a again  \xe2\x86\x90\xe2\x86\x92 1 %  \xe2\x86\x93\xe2\x86\x91 semitone  n nominal  s sweep  "
         "b back  z zero",
         "tab phonemes  w word  p say  m babble  [ ] hold  0..3 level  r record  ? help"},
        {"a..i then 1..9: a phoneme   \xe2\x86\x90\xe2\x86\x92 1 %  \xe2\x86\x93\xe2\x86\x91 semitone  n nominal",
         "tab back  o sustain  [ ] hold  0..3 level  r record  ? help  q quit"}};
    for (int i = 0; i < 2; i++) {
        hy_cells_put(c, row + i, 1, HY_DIM, lines[v->phonemes][i]);
    }
}

static void put_foot(hy_cells *c, const hy_view *v, int *cursor)
{
    const hy_live_session *s = v->session;
    const int row = c->rows - 1;
    *cursor = -1;
    if (v->prompt == NULL) {
        hy_cells_put(c, row, 1, s->note_is_error ? HY_WARN : HY_PLAIN, s->note);
        return;
    }
    const int room = c->columns - 4;
    const char *text = v->prompt;
    hy_cells *measure = c; /* the tail, if it is too long for the row */
    int k = hy_cells_put(measure, -1, 0, HY_PLAIN, text);
    for (; k > room && *text != '\0'; k--) {
        do {
            text++;
        } while (((unsigned char)*text & 0xc0U) == 0x80U);
    }
    hy_cells_put(c, row, 1, HY_ACCENT, ":");
    *cursor = hy_cells_put(c, row, 2, HY_PLAIN, text);
}

void hy_screen_draw(hy_cells *c, const hy_view *v, int *cursor)
{
    const int foot = c->rows - 4;
    put_head(c, v);
    if (v->session->help) {
        hy_cells_rule(c, 1, "keys");
        hy_screen_help(c, 2, c->rows - 1);
        put_foot(c, v, cursor);
        return;
    }
    char title[300];
    snprintf(title, sizeof title, "to %s, %lu Hz", v->device, (unsigned long)v->session->options.rate);
    hy_cells_rule(c, 1, title);
    put_clock(c, 2, v);
    put_slider(c, 3, v);
    put_phoneme(c, 4, v);
    put_said(c, 5, v);
    put_settings(c, 6, v);
    put_meter(c, 7, v);
    if (v->phonemes) {
        hy_cells_rule(c, 8, "phonemes");
        hy_screen_phonemes(c, v, 9, foot);
        if (foot > 26) {
            hy_cells_rule(c, 20, "spectrogram, kHz");
            hy_screen_spectrogram(c, v->session->scope, 21, foot);
        }
    } else if (v->wave) {
        hy_cells_rule(c, 8, "waveform, before volume and limiter");
        hy_screen_wave(c, v->session->scope, 9, foot);
    } else {
        hy_cells_rule(c, 8, "spectrogram, kHz");
        hy_screen_spectrogram(c, v->session->scope, 9, foot);
    }
    hy_cells_rule(c, foot, "");
    put_keys(c, foot + 1, v);
    put_foot(c, v, cursor);
}

void hy_screen_line(const hy_view *v, char *line, size_t size)
{
    const hy_live_session *s = v->session;
    const hy_status *now = &s->status;
    snprintf(line, size,
             "%.3f s  clock %.6g Hz  ratio %.4f  phoneme %s  request %s  level %d  hold %.4g ms  volume %.0f dB  "
             "peak %.1f "
             "dB  limiter %s  latency %.1f ms  xruns %llu  load %.3f%s",
             (double)now->ps * 1e-12, now->hz, now->hz / s->options.part->nominal_hz,
             hy_code_name((unsigned)now->phoneme).text, now->request ? "high" : "low", (int)now->level,
             (double)now->hold / 1e9, s->volume_db, decibels(s->peak_hold), s->limiter ? "on" : "off", v->latency_ms,
             (unsigned long long)v->xruns, v->worst_load, s->take != NULL ? "  recording" : "");
}
