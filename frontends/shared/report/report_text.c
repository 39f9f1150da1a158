/* Text on its way into the page: escaping, numbers, the command line. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "report_private.h"
#include "text.h"

static const char *entity(char c)
{
    switch (c) {
    case '&':
        return "&amp;";
    case '<':
        return "&lt;";
    case '>':
        return "&gt;";
    case '"':
        return "&quot;";
    case '\'':
        return "&#39;";
    default:
        return NULL;
    }
}

/* U+FFFE and U+FFFF are valid UTF-8, but no characters of a page. */
static int may_stand(uint32_t point)
{
    return (point >= 0x20 && point < 0x7f) || point == '\n' || point == '\t' ||
           (point >= 0xa0 && (point & 0xfffe) != 0xfffe);
}

void hy_report_put(FILE *out, const char *text)
{
    size_t left = text != NULL ? strlen(text) : 0;
    while (left > 0) {
        uint32_t point = 0;
        size_t length = hy_utf8(text, left, &point);
        const char *replaced = length == 1 ? entity(*text) : NULL;
        if (length == 0 || !may_stand(point)) {
            replaced = "\xef\xbf\xbd"; /* U+FFFD */
            length = length == 0 ? 1 : length;
        }
        if (replaced != NULL) {
            fputs(replaced, out);
        } else {
            fwrite(text, 1, length, out);
        }
        text += length;
        left -= length;
    }
}

int hy_report_decimals(double resolution)
{
    int decimals = 0;
    double step = 1.0;
    /* a little slack, so that 0.1 asks for one decimal whichever way it was rounded */
    while (decimals < 9 && resolution > 0.0 && step > resolution * 1.0000001) {
        step *= 0.1;
        decimals++;
    }
    return decimals;
}

hy_report_figure hy_report_number(double value, double resolution)
{
    hy_report_figure figure = {"\u2013"};
    if (!isfinite(value)) {
        if (isinf(value)) {
            snprintf(figure.text, sizeof figure.text, value > 0 ? "\u221e" : "\u2212\u221e");
        }
        return figure;
    }
    if (fabs(value) >= 1e15) {
        snprintf(figure.text, sizeof figure.text, "%.6g", value);
        return figure;
    }
    snprintf(figure.text, sizeof figure.text, "%.*f", hy_report_decimals(resolution), value);
    if (figure.text[0] == '-') {
        /* a true minus; what rounds to nothing has none */
        char digits[sizeof figure.text];
        snprintf(digits, sizeof digits, "%s", figure.text + 1);
        int nothing = strspn(digits, "0.") == strlen(digits);
        snprintf(figure.text, sizeof figure.text, "%s%.30s", nothing ? "" : "\u2212", digits);
    }
    return figure;
}

static int plain(const char *word)
{
    static const char safe[] = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_@%+=:,./-";
    return word[0] != '\0' && strspn(word, safe) == strlen(word);
}

/* Appends, in single quotes where a shell would want them. */
static void quote(FILE *out, const char *word)
{
    if (plain(word)) {
        fputs(word, out);
        return;
    }
    fputc('\'', out);
    for (; *word != '\0'; word++) {
        if (*word == '\'') {
            fputs("'\\''", out);
        } else {
            fputc(*word, out);
        }
    }
    fputc('\'', out);
}

char *hy_report_command(int argc, char *const *argv)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    if (out == NULL) {
        return NULL;
    }
    fputs("hyoid", out);
    for (int i = 0; i < argc; i++) {
        fputc(' ', out);
        quote(out, argv[i]);
    }
    if (fclose(out) != 0) {
        free(text);
        return NULL;
    }
    return text;
}
