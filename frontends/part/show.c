/* A part's numbers explained: what each one means in hertz, decibels and milliseconds, and how sure it is. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "acoustics.h"
#include "part.h"
#include "partfile_fields.h"
#include "score.h"
#include "senses.h"
#include "text.h"

enum { PAGE = 78, INDENT = 10 };

/* A number and what is known of it: one line, then its source, wrapped. */
static void print_number(FILE *out, const char *name, const hy_provenance *known, const char *meaning)
{
    char amount[40];
    snprintf(amount, sizeof amount, "%s %s", known->value, known->unit);
    fprintf(out, "  %-15s %-13s  %s\n", name, amount, meaning);
    fprintf(out, "%*s%s:", INDENT, "", known->confidence);
    int column = INDENT + (int)strlen(known->confidence) + 1;
    for (const char *word = known->source; *word != '\0';) {
        size_t length = strcspn(word, " ");
        int width = (int)hy_text_columns(word, length);
        if (column + 1 + width > PAGE) {
            fprintf(out, "\n%*s", INDENT, "");
            column = INDENT;
        } else {
            fputc(' ', out);
            column++;
        }
        fwrite(word, 1, length, out);
        column += width;
        word += length + strspn(word + length, " ");
    }
    fputc('\n', out);
}

static void amplitude_text(const hyoid_part *part, unsigned code, char *text, size_t size)
{
    if (code == 0) {
        snprintf(text, size, "silent");
    } else {
        snprintf(text, size, "%.1f dB against the largest", hy_amplitude_db(part, code));
    }
}

static void delay_text(const hyoid_part *part, const hyoid_phoneme *p, unsigned sixteenths, const char *what,
                       char *text, size_t size)
{
    double ms = 1000.0 * p->duration * sixteenths / HYOID_SLOTS / hy_cycle_hz(part);
    snprintf(text, size, "%s %.1f ms after the latch", what, ms);
}

static void explain(const hyoid_part *part, unsigned code, int quantity, char *text, size_t size)
{
    const hyoid_phoneme *p = &part->phoneme[code];
    hy_formants f = hy_phoneme_formants(part, code);
    hy_noise_shares shares = hy_spectrum_shares(p->fc);
    switch (quantity) {
    case 0:
        snprintf(text, size, "F1 at %.0f Hz, %.0f Hz wide", f.f1, f.bw1);
        break;
    case 1:
        snprintf(text, size, "F2 at %.0f Hz", f.f2);
        break;
    case 2:
        snprintf(text, size, "F3 at %.0f Hz, %.0f Hz wide", f.f3, f.bw3);
        break;
    case 3:
        snprintf(text, size, "F2 is %.0f Hz wide", f.bw2);
        break;
    case 4:
        amplitude_text(part, p->va, text, size);
        break;
    case 5:
        amplitude_text(part, p->fa, text, size);
        break;
    case 6:
        snprintf(text, size, "noise goes %.0f %% past F3, %.0f %% ahead of F3, %.0f %% ahead of F2",
                 100 * shares.fixed, 100 * shares.f3, 100 * shares.f2);
        break;
    case 7:
        delay_text(part, p, p->vd, "the voice moves", text, size);
        break;
    case 8:
        delay_text(part, p, p->cld, p->closure ? "the tract closes" : "the noise moves", text, size);
        break;
    case 9:
        if (p->closure) {
            delay_text(part, p, part->burst_slot, "a stop: opens and bursts", text, size);
        } else {
            snprintf(text, size, "not a stop");
        }
        break;
    case 10:
        snprintf(text, size, "%s", p->pause ? "silence: both amplitudes go to 0 at once" : "a sound");
        break;
    default:
        snprintf(text, size, "%u filter cycles from latch to request", (unsigned)p->duration);
    }
}

static void show_phoneme(const hy_partfile *file, unsigned code, FILE *out)
{
    const hy_symbol *s = &hy_symbols[code];
    fprintf(out, "\n0x%02x %s", code, s->symbol);
    if (s->ipa[0] != '\0') {
        fprintf(out, "  [%s]  as in %s", s->ipa, s->example);
    }
    fputc('\n', out);
    for (int i = 0; i < HY_QUANTITIES; i++) {
        char text[160];
        explain(hy_partfile_part(file), code, i, text, sizeof text);
        print_number(out, hy_quantities[i].name, hy_partfile_phoneme(file, code, hy_quantities[i].name), text);
    }
    fputs("  Hertz beside a code are what its section's capacitors give. The default part's sources tell a\n"
          "  code's hertz by the linear law that the capacitors approximate.\n",
          out);
}

static void show_constant(const hy_partfile *file, const hy_constant *c, unsigned index, FILE *out)
{
    char name[64];
    const char *full = hy_constant_name(c, index, name, sizeof name);
    hy_sense sense = hy_sense_of_constant(hy_partfile_part(file), c, index);
    hy_sense_text sounds = hy_sense_say(&sense);
    print_number(out, full, hy_partfile_constant(file, full), c->meaning);
    if (sounds.text[0] != '\0') {
        fprintf(out, "%*s%s: %s\n", INDENT, "", sense.what, sounds.text);
    }
}

/* The name itself, or the stem of "pulse[3]" or "f1.k0". */
static int is_called(const char *name, const char *what)
{
    size_t length = strlen(what);
    return strncmp(name, what, length) == 0 && (name[length] == '\0' || name[length] == '[' || name[length] == '.');
}

static int show_constants(const hy_partfile *file, const char *what, FILE *out)
{
    int shown = 0;
    for (size_t i = 0; i < HY_CONSTANTS; i++) {
        const hy_constant *c = &hy_constants[i];
        unsigned entries = hy_constant_entries(c, hy_partfile_part(file));
        for (unsigned k = 0; k < entries; k++) {
            char name[64];
            if (is_called(hy_constant_name(c, k, name, sizeof name), what)) {
                fputs(shown == 0 ? "\n" : "", out);
                show_constant(file, c, k, out);
                shown++;
            }
        }
    }
    return shown;
}

static int read_code(const char *what)
{
    char *end;
    if (what[0] < '0' || what[0] > '9') {
        return -1;
    }
    unsigned long code = strtoul(what, &end, what[0] == '0' && what[1] == 'x' ? 16 : 10);
    return *end == '\0' && code < HYOID_PHONEMES ? (int)code : -1;
}

static int show_named(const hy_partfile *file, const char *what, FILE *out, hy_diag *diag)
{
    int code = read_code(what);
    if (code >= 0) {
        show_phoneme(file, (unsigned)code, out);
        return 0;
    }
    int shown = 0;
    const char *names[HYOID_PHONEMES + HY_CONSTANTS];
    for (unsigned i = 0; i < HYOID_PHONEMES; i++) {
        names[i] = hy_symbols[i].symbol;
        if (strcmp(what, hy_symbols[i].symbol) == 0) {
            show_phoneme(file, i, out);
            shown++;
        }
    }
    if (shown > 0 || show_constants(file, what, out) > 0) {
        return 0;
    }
    /* a symbol may stand there several times; the nearest names shall differ */
    size_t count = 0;
    for (unsigned i = 0; i < HYOID_PHONEMES; i++) {
        size_t k = 0;
        while (k < count && strcmp(names[k], names[i]) != 0) {
            k++;
        }
        names[k] = names[i];
        count += k == count;
    }
    for (size_t i = 0; i < HY_CONSTANTS; i++) {
        names[count++] = hy_constants[i].name;
    }
    hy_near near = hy_near_names(what, strlen(what), names, count);
    return hy_fail(diag, "%s is no code (0..63), symbol or constant of a part%s%s", hy_show(what, strlen(what)).text,
                   near.text[0] != '\0' ? "; nearest: " : "", near.text);
}

/* How many numbers there are of each confidence. */
static void show_summary(const hy_partfile *file, FILE *out)
{
    static const char *const words[] = {"published", "recalled", "derived", "fitted", "measured", "estimate"};
    const hyoid_part *part = hy_partfile_part(file);
    fprintf(out, "\nHow its numbers are known      phonemes  constants\n");
    for (size_t w = 0; w < sizeof words / sizeof words[0]; w++) {
        unsigned phonemes = 0;
        unsigned constants = 0;
        for (unsigned code = 0; code < HYOID_PHONEMES; code++) {
            for (int i = 0; i < HY_QUANTITIES; i++) {
                const hy_provenance *known = hy_partfile_phoneme(file, code, hy_quantities[i].name);
                phonemes += strcmp(known->confidence, words[w]) == 0;
            }
        }
        for (size_t i = 0; i < HY_CONSTANTS; i++) {
            for (unsigned k = 0; k < hy_constant_entries(&hy_constants[i], part); k++) {
                char name[64];
                const char *full = hy_constant_name(&hy_constants[i], k, name, sizeof name);
                constants += strcmp(hy_partfile_constant(file, full)->confidence, words[w]) == 0;
            }
        }
        fprintf(out, "  %-28s %8u  %9u\n", words[w], phonemes, constants);
    }
    fprintf(out, "\nConstants (`hyoid part show NAME` explains one)\n");
    for (size_t i = 0; i < HY_CONSTANTS; i++) {
        char name[64];
        const hy_constant *c = &hy_constants[i];
        unsigned entries = hy_constant_entries(c, part);
        const hy_provenance *known = hy_partfile_constant(file, hy_constant_name(c, 0, name, sizeof name));
        fprintf(out, "  %-21s %12s%s %-9s  %s\n", c->name, known->value, entries > 1 ? ".." : "  ", known->unit,
                c->meaning);
    }
}

int hy_part_show(const hy_partfile *file, const char *name, const char *what, FILE *out, hy_diag *diag)
{
    const hyoid_part *part = hy_partfile_part(file);
    fprintf(out, "Part: %s, fingerprint %016llx; hertz and milliseconds are for its nominal clock of %.10g Hz.\n",
            name, (unsigned long long)hyoid_part_hash(part), part->nominal_hz);
    if (hyoid_part_hash(part) == hyoid_part_hash(hyoid_part_default())) {
        int built_in = strcmp(name, "default") == 0;
        fprintf(out, "%s%s\n", built_in ? "" : "Its numbers are those of the default part. ", hy_default_part_note);
    }
    if (what != NULL) {
        return show_named(file, what, out, diag);
    }
    show_summary(file, out);
    return 0;
}
