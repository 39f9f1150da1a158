#include "vcd_queue.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include <hyoid/hyoid.h>

/* Identifier codes, in the order of the packed wires; then the vector and the reals. */
static const char code_of[] = "ABCDEFIJSR";
static const char *const name_of[] = {"p0", "p1", "p2", "p3", "p4", "p5", "i0", "i1", "strobe", "request"};
enum { VECTOR = 'P', CLOCK = 'H', LEVEL = 'L' };

void hy_vcd_queue_start(hy_vcd_queue *queue, FILE *out, hy_vcd_holds holds, const char *note)
{
    *queue = (hy_vcd_queue){.out = out, .holds = holds, .stamp = -1, .bits = HY_VCD_REQUEST};
    /* No $date: the same run must give the same bytes. */
    fprintf(out, "$version hyoid %d.%d.%d $end\n", HYOID_VERSION_MAJOR, HYOID_VERSION_MINOR, HYOID_VERSION_PATCH);
    if (note != NULL && note[0] != '\0') {
        fprintf(out, "$comment %s $end\n", note);
    }
    fprintf(out, "$timescale 1 ns $end\n$scope module board $end\n");
    if (holds >= HY_VCD_PINS) {
        fprintf(out, "$var wire 6 %c p [5:0] $end\n", VECTOR);
    }
    for (int i = 0; i < HY_VCD_BITS; i++) {
        fprintf(out, "$var wire 1 %c %s $end\n", code_of[i], name_of[i]);
    }
    if (holds >= HY_VCD_PINS) {
        fprintf(out, "$var real 64 %c clock_hz $end\n", CLOCK);
    }
    if (holds == HY_VCD_ALL) {
        fprintf(out, "$var real 64 %c audio $end\n", LEVEL);
    }
    fprintf(out, "$upscope $end\n$enddefinitions $end\n");
}

static void put_real(FILE *out, double value, char code)
{
    char text[40];
    snprintf(text, sizeof text, "%.17g", value);
    for (char *c = text; *c != '\0'; c++) {
        if (*c == ',') { /* the locale's, in a program that sets one */
            *c = '.';
        }
    }
    fprintf(out, "r%s %c\n", text, code);
}

static void put_vector(FILE *out, unsigned bits)
{
    char text[7];
    for (int i = 0; i < 6; i++) {
        text[i] = (bits >> (5 - i) & 1) != 0 ? '1' : '0';
    }
    text[6] = '\0';
    fprintf(out, "b%s %c\n", text, VECTOR);
}

static void put_stamp(hy_vcd_queue *queue, int64_t ns)
{
    if (queue->stamp != ns) {
        queue->stamp = ns;
        fprintf(queue->out, "#%" PRId64 "\n", ns);
    }
}

static void dump_all(hy_vcd_queue *queue)
{
    queue->started = 1;
    put_stamp(queue, 0);
    fputs("$dumpvars\n", queue->out);
    if (queue->holds >= HY_VCD_PINS) {
        put_vector(queue->out, queue->bits);
    }
    for (int i = 0; i < HY_VCD_BITS; i++) {
        fprintf(queue->out, "%u%c\n", queue->bits >> i & 1, code_of[i]);
    }
    if (queue->holds >= HY_VCD_PINS) {
        put_real(queue->out, queue->clock_hz, CLOCK);
    }
    if (queue->holds == HY_VCD_ALL) {
        put_real(queue->out, queue->level, LEVEL);
    }
    fputs("$end\n", queue->out);
}

static void write_changes(hy_vcd_queue *queue, const hy_vcd_group *group)
{
    unsigned bits = (queue->bits & ~group->mask) | group->bits;
    unsigned changed = bits ^ queue->bits;
    int clock = group->has_clock && group->clock != queue->clock_hz;
    int audio = group->has_audio && group->audio != queue->level;
    queue->bits = bits;
    queue->clock_hz = clock ? group->clock : queue->clock_hz;
    queue->level = audio ? group->audio : queue->level;
    if (group->ns == 0 || (changed == 0 && !clock && !audio && !group->merged)) {
        return; /* what stands at 0 is told by $dumpvars */
    }
    put_stamp(queue, group->ns);
    if (group->merged) {
        fputs("$comment pulses merged here: too many within a nanosecond $end\n", queue->out);
    }
    if ((changed & HY_VCD_CODE) != 0 && queue->holds >= HY_VCD_PINS) {
        put_vector(queue->out, bits);
    }
    for (int i = 0; i < HY_VCD_BITS; i++) {
        if ((changed >> i & 1) != 0) {
            fprintf(queue->out, "%u%c\n", bits >> i & 1, code_of[i]);
        }
    }
    if (clock) {
        put_real(queue->out, queue->clock_hz, CLOCK);
    }
    if (audio) {
        put_real(queue->out, queue->level, LEVEL);
    }
}

/* A comment ends at the word $end; a name that holds it, or an odd character, can't be told in one. */
static int legal(const char *name)
{
    for (const char *c = name; *c != '\0'; c++) {
        if ((unsigned char)*c < 0x20 || *c == 0x7f) {
            return 0;
        }
    }
    return strstr(name, "$end") == NULL;
}

void hy_vcd_queue_flush(hy_vcd_queue *queue, int64_t limit)
{
    for (;;) {
        int64_t ns = queue->first < queue->count ? queue->groups[queue->first].ns : INT64_MAX;
        int64_t mark_ns = queue->first_mark < queue->mark_count ? queue->marks[queue->first_mark].ns : INT64_MAX;
        int is_group = ns <= mark_ns;
        int64_t next = is_group ? ns : mark_ns;
        if (next >= limit) {
            break;
        }
        if (!queue->started && !(is_group && ns == 0)) {
            dump_all(queue);
        }
        if (is_group) {
            write_changes(queue, &queue->groups[queue->first++]);
        } else {
            hy_vcd_mark *mark = &queue->marks[queue->first_mark++];
            put_stamp(queue, mark->ns);
            fprintf(queue->out, "$comment mark %s $end\n", legal(mark->name) ? mark->name : "?");
            free(mark->name);
        }
    }
    if (queue->first == queue->count) {
        queue->first = queue->count = 0;
    }
    if (queue->first_mark == queue->mark_count) {
        queue->first_mark = queue->mark_count = 0;
    }
}

void hy_vcd_queue_end(hy_vcd_queue *queue, int64_t end_ns)
{
    hy_vcd_queue_flush(queue, INT64_MAX);
    if (!queue->started) {
        dump_all(queue);
    }
    if (end_ns > queue->stamp) {
        put_stamp(queue, end_ns);
    }
}

void hy_vcd_queue_free(hy_vcd_queue *queue)
{
    for (size_t i = queue->first_mark; i < queue->mark_count; i++) {
        free(queue->marks[i].name);
    }
    free(queue->marks);
    free(queue->groups);
    *queue = (hy_vcd_queue){0};
}

/* Room for one more behind [first, count): moves them to the front if half of the array lies free there. */
static int make_room(void **items, size_t item_size, size_t *first, size_t *count, size_t *capacity)
{
    if (*count < *capacity) {
        return 0;
    }
    if (*first > *capacity / 2) {
        memmove(*items, (char *)*items + *first * item_size, (*count - *first) * item_size);
        *count -= *first;
        *first = 0;
        return 0;
    }
    size_t bigger = *capacity == 0 ? 64 : *capacity * 2;
    void *moved = realloc(*items, bigger * item_size);
    if (moved == NULL) {
        return -1;
    }
    *items = moved;
    *capacity = bigger;
    return 0;
}

/* The group of a nanosecond, made if it isn't there. Null if memory is out. */
static hy_vcd_group *group_at(hy_vcd_queue *queue, int64_t ns)
{
    size_t at = queue->count;
    while (at > queue->first && queue->groups[at - 1].ns > ns) {
        at--;
    }
    if (at > queue->first && queue->groups[at - 1].ns == ns) {
        return &queue->groups[at - 1];
    }
    size_t behind = queue->count - at;
    void *items = queue->groups;
    if (make_room(&items, sizeof *queue->groups, &queue->first, &queue->count, &queue->capacity) != 0) {
        queue->out_of_memory = 1;
        return NULL;
    }
    queue->groups = items;
    at = queue->count - behind;
    memmove(queue->groups + at + 1, queue->groups + at, behind * sizeof *queue->groups);
    queue->count++;
    queue->groups[at] = (hy_vcd_group){.ns = ns};
    return &queue->groups[at];
}

void hy_vcd_queue_bits(hy_vcd_queue *queue, int64_t ns, unsigned mask, unsigned bits)
{
    hy_vcd_group *group = group_at(queue, ns);
    if (group != NULL) {
        group->mask |= mask;
        group->bits = (group->bits & ~mask) | (bits & mask);
    }
}

void hy_vcd_queue_clock(hy_vcd_queue *queue, int64_t ns, double hz)
{
    hy_vcd_group *group = queue->holds >= HY_VCD_PINS ? group_at(queue, ns) : NULL;
    if (group != NULL) {
        group->has_clock = 1;
        group->clock = hz;
    }
}

void hy_vcd_queue_audio(hy_vcd_queue *queue, int64_t ns, double level)
{
    hy_vcd_group *group = queue->holds == HY_VCD_ALL ? group_at(queue, ns) : NULL;
    if (group != NULL) {
        group->has_audio = 1;
        group->audio = level;
    }
}

void hy_vcd_queue_merged(hy_vcd_queue *queue, int64_t ns)
{
    hy_vcd_group *group = queue->holds >= HY_VCD_PINS ? group_at(queue, ns) : NULL;
    if (group != NULL) {
        group->merged = 1;
    }
}

void hy_vcd_queue_mark(hy_vcd_queue *queue, int64_t ns, const char *name)
{
    if (queue->holds < HY_VCD_PINS) {
        return;
    }
    void *items = queue->marks;
    char *copy = strdup(name);
    if (copy == NULL ||
        make_room(&items, sizeof *queue->marks, &queue->first_mark, &queue->mark_count, &queue->mark_capacity) != 0) {
        free(copy);
        queue->out_of_memory = 1;
        return;
    }
    queue->marks = items;
    queue->marks[queue->mark_count++] = (hy_vcd_mark){.ns = ns, .name = copy};
}
