#include "partfile_fields.h"

#include <string.h>

#include "number.h"
#include "score.h"

static void write_phonemes(const hyoid_part *part, FILE *out)
{
    fputs("    .phoneme =\n        {\n", out);
    for (unsigned i = 0; i < HYOID_PHONEMES; i++) {
        const hyoid_phoneme *p = &part->phoneme[i];
        fprintf(
            out,
            "            /* 0x%02x %-3s */ {.f1 = %u, .f2 = %u, .f3 = %u, .bw2 = %u, .va = %u, .fa = %u, .fc = %u, "
            ".vd = %u,\n"
            "                             .cld = %u, .closure = %u, .pause = %u, .duration = %u},\n",
            i, hy_symbols[i].symbol, p->f1, p->f2, p->f3, p->bw2, p->va, p->fa, p->fc, p->vd, p->cld, p->closure,
            p->pause, p->duration);
    }
    fputs("        },\n", out);
}

static void write_constant(const hyoid_part *part, const hy_constant *c, FILE *out)
{
    const char *at = (const char *)part + c->offset;
    if (c->kind == HY_KIND_REAL) {
        double value;
        memcpy(&value, at, sizeof value);
        hy_number_text number = hy_double_text(value);
        int whole = strpbrk(number.text, ".e") == NULL; /* a C compiler takes it for an int */
        fprintf(out, "    .%s = %s%s,\n", c->name, number.text, whole ? ".0" : "");
        return;
    }
    if (c->count == 0) {
        uint32_t value;
        memcpy(&value, at, sizeof value);
        fprintf(out, "    .%s = %u,\n", c->name, (unsigned)value);
        return;
    }
    fprintf(out, "    .%s =\n        {", c->name);
    unsigned entries = hy_constant_entries(c, part);
    for (unsigned i = 0; i < entries; i++) {
        int value = c->kind == HY_KIND_STEP ? part->pulse[i] : (int)part->pitch_period[i];
        fprintf(out, "%s%d,", i % 15 == 0 ? "\n            " : " ", value);
    }
    fputs("\n        },\n", out);
}

void hy_part_write_c(const hyoid_part *part, FILE *out)
{
    fputs("/* Inside of the braces of a hyoid_part. Written by `hyoid part export --c` from a part folder, where "
          "every\n"
          " * number has its source: change it there. */\n",
          out);
    write_phonemes(part, out);
    for (size_t i = 0; i < HY_CONSTANTS; i++) {
        write_constant(part, &hy_constants[i], out);
    }
}
