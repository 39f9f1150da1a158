#include "kind.h"

#include <string.h>
#include <strings.h>

#include "waves/waves.h"

static int begins(const char *head, size_t n, const char *word)
{
    const size_t length = strlen(word);
    return n >= length && memcmp(head, word, length) == 0;
}

static hy_kind by_first_bytes(const char *head, size_t n)
{
    static const struct {
        const char *word;
        hy_kind kind;
    } known[] = {{"fLaC", HY_KIND_SOUND},          {"OggS", HY_KIND_SOUND},
                 {"ID3", HY_KIND_SOUND},           {"\177ELF", HY_KIND_PROGRAM},
                 {"\211PNG", HY_KIND_PICTURE},     {"\377\330\377", HY_KIND_PICTURE},
                 {"<!DOCTYPE html", HY_KIND_PAGE}, {"<!doctype html", HY_KIND_PAGE},
                 {"<html", HY_KIND_PAGE},          {"File type = \"ooTextFile\"", HY_KIND_LABELS},
                 {"time_s,", HY_KIND_LOG},         {"\xef\xbb\xbftime_s,", HY_KIND_LOG}};
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
        if (begins(head, n, known[i].word)) {
            return known[i].kind;
        }
    }
    const int chunks = n >= 12 && (begins(head, n, "RIFF") || begins(head, n, "RF64") || begins(head, n, "FORM"));
    return chunks && (begins(head + 8, n - 8, "WAVE") || begins(head + 8, n - 8, "AIF")) ? HY_KIND_SOUND
                                                                                         : HY_KIND_UNKNOWN;
}

hy_kind hy_kind_look(FILE *in, const char *name)
{
    char head[32] = "";
    rewind(in);
    const size_t n = fread(head, 1, sizeof head, in);
    rewind(in);
    const hy_kind kind = by_first_bytes(head, n);
    if (kind != HY_KIND_UNKNOWN) {
        return kind;
    }
    const size_t length = strlen(name), ending = strlen(".score");
    if (length > ending && strcasecmp(name + length - ending, ".score") == 0) {
        return HY_KIND_SCORE;
    }
    return hy_waves_look(in) != HY_WAVES_NONE ? HY_KIND_CAPTURE : HY_KIND_UNKNOWN;
}

int hy_kind_refuse(const char *name, hy_kind kind, const char *wanted, hy_diag *diag)
{
    static const struct {
        const char *what, *advice;
    } said[] = {
        [HY_KIND_SCORE] = {"a score", "hyoid render speaks it; compare, diagnose and calibrate take it as --input"},
        [HY_KIND_LOG] = {"a write log", "hyoid render speaks it, and makes a capture of what a good chip answers "
                                        "with --pins"},
        [HY_KIND_CAPTURE] = {"a capture", "hyoid timing judges it; hyoid render speaks it"},
        [HY_KIND_SOUND] = {"a sound file", "hyoid compare, diagnose and calibrate take recordings"},
        [HY_KIND_PROGRAM] = {"a program (ELF)", "hyoid firmware runs a microcontroller's"},
        [HY_KIND_PICTURE] = {"a picture", "no verb reads one"},
        [HY_KIND_PAGE] = {"an HTML page", "no verb reads one"},
        [HY_KIND_LABELS] = {"a TextGrid", "no verb reads one"},
    };
    if (kind == HY_KIND_UNKNOWN) {
        return 0;
    }
    return hy_fail(diag, "%s: this seems to be %s; %s would be right (%s)", name, said[kind].what, wanted,
                   said[kind].advice);
}
