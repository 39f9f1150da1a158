/* The reader of value change dumps needs little memory, however long the file. */
#include <criterion/criterion.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include "vcd_read.h"

static hy_diag diag;

static long most_kib(void)
{
    struct rusage usage;
    getrusage(RUSAGE_SELF, &usage);
    return usage.ru_maxrss;
}

/* A child process writes into the pipe that is read. */
static FILE *written_by(void (*write)(FILE *out), pid_t *child)
{
    int ends[2];
    cr_assert_eq(pipe(ends), 0);
    *child = fork();
    cr_assert_geq(*child, 0);
    if (*child == 0) {
        close(ends[0]);
        FILE *out = fdopen(ends[1], "wb");
        write(out);
        fclose(out);
        _exit(0);
    }
    close(ends[1]);
    return fdopen(ends[0], "rb");
}

enum { MANY = 13000000 };

static void write_long(FILE *out)
{
    fputs("$timescale 1 ns $end $var wire 1 ! a $end $enddefinitions $end\n", out);
    for (unsigned i = 0; i < MANY; i++) {
        fprintf(out, "#%u\n%u!\n", i + 100000000, i & 1);
    }
}

static int count(void *user, const hy_vcd_change *change)
{
    (void)change;
    ++*(unsigned *)user;
    return 0;
}

Test(vcd_size, two_hundred_megabytes_in_little_memory)
{
    pid_t child;
    long before = most_kib();
    FILE *in = written_by(write_long, &child);
    hy_vcd_reader *reader = hy_vcd_reader_open(in, "long.vcd", &diag);
    cr_assert_not_null(reader, "%s", diag.text);
    unsigned changes = 0;
    hy_vcd_reader_select(reader, 0);
    cr_expect_eq(hy_vcd_reader_run(reader, &(hy_vcd_listener){&changes, count, NULL}, &diag), 0, "%s", diag.text);
    cr_expect_eq(changes, MANY);
    cr_expect_eq(hy_vcd_reader_last(reader), INT64_C(1000) * (100000000 + MANY - 1));
    cr_expect_lt(most_kib() - before, 16 * 1024);
    hy_vcd_reader_close(reader);
    fclose(in);
    waitpid(child, NULL, 0);
}

static void write_variables(FILE *out)
{
    fputs("$timescale 1 ns $end\n", out);
    for (unsigned i = 0; i < HY_VCD_VARS_MAX + 10; i++) {
        fprintf(out, "$var wire 1 code%u variable_%u $end\n", i, i);
    }
}

static void write_names(FILE *out)
{
    static char name[100001];
    memset(name, 'n', sizeof name - 1);
    for (unsigned i = 0; i < 200; i++) {
        fprintf(out, "$scope module %s $end\n", name);
    }
}

static void expect_bounded(void (*write)(FILE *), const char *message)
{
    pid_t child;
    long before = most_kib();
    FILE *in = written_by(write, &child);
    cr_expect_null(hy_vcd_reader_open(in, "many.vcd", &diag));
    cr_expect_str_eq(diag.text, message);
    cr_expect_lt(most_kib() - before, 64 * 1024);
    fclose(in);
    waitpid(child, NULL, 0);
}

Test(vcd_size, a_header_without_end_in_bounded_memory)
{
    expect_bounded(write_variables, "many.vcd:250002:13: found more than 250000 variables or scopes; expected fewer");
}

Test(vcd_size, names_without_end_in_bounded_memory)
{
    expect_bounded(write_names, "many.vcd:168:15: found more than 16777216 bytes of names; expected fewer");
}
