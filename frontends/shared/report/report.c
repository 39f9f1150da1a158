/* The page: header, verdict, sections, cautions. */
#include "report.h"

#include <stdlib.h>
#include <string.h>

#include "partfile_fields.h"
#include "report_private.h"

const char *hy_verdict_text(hy_verdict verdict)
{
    return verdict == HY_PASS ? "pass" : verdict == HY_FAIL ? "fail" : "inconclusive";
}

const char *hy_report_class(hy_verdict verdict)
{
    return verdict == HY_PASS ? "pass" : verdict == HY_FAIL ? "fail" : "open";
}

static void line(FILE *out, const char *name, const char *value)
{
    if (value != NULL) {
        fputs("<dt>", out);
        hy_report_put(out, name);
        fputs("</dt><dd>", out);
        hy_report_put(out, value);
        fputs("</dd>\n", out);
    }
}

static void part_lines(FILE *out, const hy_report_head *head)
{
    const char *name = head->part_name != NULL ? head->part_name : "built-in default";
    fputs("<dt>Part</dt><dd>", out);
    hy_report_put(out, name);
    fprintf(out, ", fingerprint <code>%016llx</code>%s</dd>\n", (unsigned long long)hyoid_part_hash(head->part),
            hy_part_note(head->part)[0] != '\0' ? ", <strong>an estimate</strong>" : "");
}

static void write_head(FILE *out, const hy_report_head *head)
{
    fputs("<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\"/>\n"
          "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n"
          "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; "
          "style-src 'unsafe-inline'\"/>\n<title>",
          out);
    hy_report_put(out, head->title);
    if (head->item != NULL) {
        fputs(": ", out);
        hy_report_put(out, head->item);
    }
    fputs("</title>\n<style>\n", out);
    for (const char *const *rule = hy_report_style; *rule != NULL; rule++) {
        fprintf(out, "%s\n", *rule);
    }
    fputs("</style>\n</head>\n<body>\n<header>\n<h1>", out);
    hy_report_put(out, head->title);
    fputs("</h1>\n<dl>\n", out);
    line(out, "Item", head->item);
    line(out, "Conditions", head->conditions);
    for (size_t i = 0; head->more != NULL && i < head->more_count; i++) {
        line(out, head->more[i].name, head->more[i].value);
    }
    line(out, "Clock", head->clock);
    line(out, "Instrument", head->instrument);
    uint32_t v = hyoid_version();
    fprintf(out, "<dt>Held against</dt><dd>hyoid %u.%u.%u, a model of the chip of US patent 4,433,210</dd>\n",
            (unsigned)(v / 10000), (unsigned)(v / 100 % 100), (unsigned)(v % 100));
    if (head->part != NULL) {
        part_lines(out, head);
    }
    if (head->command != NULL) {
        fputs("<dt>Command</dt><dd><code>", out);
        hy_report_put(out, head->command);
        fputs("</code></dd>\n", out);
    }
    line(out, "Date", head->date);
    fputs("</dl>\n", out);
    if (head->part != NULL && hy_part_note(head->part)[0] != '\0') {
        fputs("<p class=\"estimate\">", out);
        hy_report_put(out, hy_default_part_note);
        fputs(" No dump of a real mask was read: a verdict here says how the item differs from this estimate, and "
              "figures that rest on it are no specification of a chip.</p>\n",
              out);
    }
    fputs("</header>\n<main>\n", out);
}

hy_report *hy_report_open(const char *path, const hy_report_head *head, hy_diag *diag)
{
    hy_report *report = calloc(1, sizeof *report);
    if (report == NULL) {
        hy_fail(diag, "memory is short: no report");
        return NULL;
    }
    report->file = hy_outfile_open(path, diag);
    if (report->file == NULL) {
        free(report);
        return NULL;
    }
    report->out = hy_outfile_stream(report->file);
    write_head(report->out, head);
    return report;
}

void hy_report_verdict(hy_report *report, hy_verdict verdict, const char *text, const char *detail)
{
    hy_report_verdict_word(report, verdict, hy_verdict_text(verdict), text, detail);
}

void hy_report_verdict_word(hy_report *report, hy_verdict verdict, const char *word, const char *text,
                            const char *detail)
{
    if (report == NULL) {
        return;
    }
    hy_report_close_table(report);
    fprintf(report->out, "<div class=\"verdict %s\"><b>", hy_report_class(verdict));
    hy_report_put(report->out, word);
    fputs("</b>", report->out);
    hy_report_put(report->out, text);
    if (detail != NULL) {
        fputs("<p>", report->out);
        hy_report_put(report->out, detail);
        fputs("</p>", report->out);
    }
    fputs("</div>\n", report->out);
}

static void close_section(hy_report *report)
{
    hy_report_close_table(report);
    if (report->section) {
        fputs("</section>\n", report->out);
    }
    report->section = 0;
}

void hy_report_section(hy_report *report, const char *title)
{
    if (report == NULL) {
        return;
    }
    close_section(report);
    report->section = 1;
    fputs("<section>\n<h2>", report->out);
    hy_report_put(report->out, title);
    fputs("</h2>\n", report->out);
}

static void paragraph(hy_report *report, const char *open, const char *text)
{
    if (report == NULL) {
        return;
    }
    hy_report_close_table(report);
    fputs(open, report->out);
    hy_report_put(report->out, text);
    fputs("</p>\n", report->out);
}

void hy_report_text(hy_report *report, const char *text)
{
    paragraph(report, "<p>", text);
}

void hy_report_note(hy_report *report, const char *text)
{
    paragraph(report, "<p class=\"note\">", text);
}

void hy_report_cautions(hy_report *report)
{
    static const char *const cautions[] = {
        "Mains and monitor voltages inside a cabinet can kill. Switch off, pull the plug, and leave live work to "
        "people "
        "trained for it; use an isolating transformer where a live chassis has to be measured.",
        "A picture tube and its supply hold their charge long after the plug is out. Keep away from the tube's anode "
        "unless you are trained to discharge it.",
        "Before you clip a probe's ground or a sound card's shield to a board, make sure that the board is isolated "
        "from "
        "the mains: an earthed instrument shorts a live chassis through itself.",
        "Static discharge ruins chips that can't be replaced: wrist strap, earthed mat, power off before a chip goes "
        "in "
        "or out.",
        "Check every supply before a chip is plugged in, and never drive an input beyond its supply.",
        "Test sounds can be loud and shrill: start quietly, above all with headphones.",
        "Your local electrical code and the word of a licensed technician come before anything said here.",
    };
    if (report == NULL || report->cautions) {
        return;
    }
    report->cautions = 1;
    close_section(report);
    fputs("<section class=\"cautions\">\n<h2>Cautions</h2>\n<ul>\n", report->out);
    for (size_t i = 0; i < sizeof cautions / sizeof cautions[0]; i++) {
        fputs("<li>", report->out);
        hy_report_put(report->out, cautions[i]);
        fputs("</li>\n", report->out);
    }
    fputs("</ul>\n</section>\n", report->out);
}

int hy_report_finish(hy_report *report, hy_diag *diag)
{
    if (report == NULL) {
        return 0;
    }
    hy_report_cautions(report);
    close_section(report);
    fputs("</main>\n</body>\n</html>\n", report->out);
    return hy_outfile_finish(report->file, diag);
}

int hy_report_commit(hy_report *report, hy_diag *diag)
{
    if (report == NULL) {
        return 0;
    }
    int result = hy_outfile_commit(report->file, diag);
    free(report);
    return result;
}

int hy_report_commit_all(hy_report *report, hy_outfile *const *files, size_t count, int failed, hy_diag *diag)
{
    if (failed) {
        hy_report_abandon(report);
    } else {
        failed = hy_report_commit(report, diag) != 0;
    }
    for (size_t i = 0; i < count; i++) {
        if (failed) {
            hy_outfile_abandon(files[i]);
        } else {
            failed = files[i] != NULL && hy_outfile_commit(files[i], diag) != 0;
        }
    }
    return failed ? -1 : 0;
}

void hy_report_abandon(hy_report *report)
{
    if (report == NULL) {
        return;
    }
    hy_report_close_table(report); /* frees its headings */
    hy_outfile_abandon(report->file);
    free(report);
}
