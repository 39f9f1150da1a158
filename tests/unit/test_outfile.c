/* Output files are whole or absent, whatever goes wrong. */
#include <criterion/criterion.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mount.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "outfile.h"
#include "scratch.h"

static hy_diag diag;

TestSuite(outfile, .init = scratch_begin, .fini = scratch_end);

static hy_outfile *good(const char *path)
{
    hy_outfile *out = hy_outfile_open(path, &diag);
    cr_assert_not_null(out, "%s", diag.text);
    return out;
}

static void check_text(const char *path, const char *text)
{
    char *bytes = scratch_read(path, NULL);
    cr_assert_str_eq(bytes, text);
    free(bytes);
}

static void refused(const char *path, const char *why)
{
    char expected[700];
    diag.text[0] = '\0';
    cr_assert_null(hy_outfile_open(path, &diag));
    snprintf(expected, sizeof expected, "cannot write %s: %s", path, why);
    cr_assert_str_eq(diag.text, expected);
}

Test(outfile, appears_at_commit_with_the_usual_mode)
{
    umask(027);
    hy_outfile *out = good(scratch("a"));
    fputs("hello", hy_outfile_stream(out));
    cr_assert_neq(access(scratch("a"), F_OK), 0);
    cr_assert_eq(hy_outfile_finish(out, &diag), 0);
    cr_assert_neq(access(scratch("a"), F_OK), 0);
    cr_assert_eq(hy_outfile_commit(out, &diag), 0);
    check_text(scratch("a"), "hello");
    struct stat st;
    cr_assert_eq(stat(scratch("a"), &st), 0);
    cr_assert_eq(st.st_mode & 0777, 0640);
    cr_assert_eq(scratch_count(), 1);
}

Test(outfile, replaces_a_file_and_keeps_its_mode)
{
    FILE *old = fopen(scratch("a"), "w");
    fputs("old and longer", old);
    fclose(old);
    chmod(scratch("a"), 0604);
    hy_outfile *out = good(scratch("a"));
    fputs("new", hy_outfile_stream(out));
    check_text(scratch("a"), "old and longer");
    cr_assert_eq(hy_outfile_commit(out, &diag), 0);
    check_text(scratch("a"), "new");
    struct stat st;
    cr_assert_eq(stat(scratch("a"), &st), 0);
    cr_assert_eq(st.st_mode & 0777, 0604);
}

Test(outfile, refuses_a_link_that_leads_nowhere)
{
    diag.text[0] = '\0';
    cr_assert_eq(symlink("absent", scratch("link")), 0);
    cr_assert_null(hy_outfile_open(scratch("link"), &diag));
    cr_assert(strstr(diag.text, "it is a link that leads nowhere") != NULL, "%s", diag.text);
    cr_assert_eq(symlink("loop", scratch("loop")), 0);
    diag.text[0] = '\0';
    cr_assert_null(hy_outfile_open(scratch("loop"), &diag));
    cr_assert_eq(scratch_count(), 2, "both links are still there, and nothing else");
}

Test(outfile, follows_a_link)
{
    fclose(fopen(scratch("target"), "w"));
    cr_assert_eq(symlink("target", scratch("link")), 0);
    hy_outfile *out = good(scratch("link"));
    fputs("x", hy_outfile_stream(out));
    cr_assert_eq(hy_outfile_commit(out, &diag), 0);
    check_text(scratch("target"), "x");
    struct stat st;
    cr_assert_eq(lstat(scratch("link"), &st), 0);
    cr_assert(S_ISLNK(st.st_mode));
}

Test(outfile, writers_may_seek)
{
    hy_outfile *out = good(scratch("a"));
    fputs("....tail", hy_outfile_stream(out));
    fseek(hy_outfile_stream(out), 0, SEEK_SET);
    fputs("head", hy_outfile_stream(out));
    cr_assert_eq(hy_outfile_commit(out, &diag), 0);
    check_text(scratch("a"), "headtail");
}

Test(outfile, abandon_leaves_nothing)
{
    FILE *old = fopen(scratch("a"), "w");
    fputs("old", old);
    fclose(old);
    hy_outfile *out = good(scratch("a"));
    hy_outfile *other = good(scratch("b"));
    fputs("half of it", hy_outfile_stream(out));
    fflush(hy_outfile_stream(out));
    cr_assert_eq(scratch_count(), 3);
    hy_outfile_abandon(out);
    hy_outfile_abandon(other);
    hy_outfile_abandon(NULL);
    cr_assert_eq(scratch_count(), 1);
    check_text(scratch("a"), "old");
}

Test(outfile, says_what_is_wrong_with_the_place)
{
    char why[500];
    fclose(fopen(scratch("file"), "w"));
    snprintf(why, sizeof why, "the folder %s does not exist", scratch("none"));
    refused(scratch("none/a"), why);
    snprintf(why, sizeof why, "%s is not a folder", scratch("file"));
    refused(scratch("file/a"), why);
    refused(scratch("."), "it is a folder");
    refused(scratch("new/"), "it is a folder");
    char name[300];
    memset(name, 'n', sizeof name - 1);
    name[sizeof name - 1] = '\0';
    refused(scratch(name), "the name is too long");
    diag.text[0] = '\0';
    cr_assert_null(hy_outfile_open("", &diag));
    cr_assert_str_eq(diag.text, "cannot write the output: its name is empty");
    cr_assert_eq(scratch_count(), 1);
}

Test(outfile, refuses_what_may_not_be_written)
{
    fclose(fopen(scratch("file"), "w"));
    chmod(scratch("file"), 0444);
    chmod(scratch("."), 0555);
    if (geteuid() == 0) { /* root may write everywhere; nobody may not */
        cr_assert_eq(setuid(65534), 0);
    }
    refused(scratch("a"), "permission denied");
    refused(scratch("file"), "permission denied");
}

Test(outfile, full_device)
{
    hy_outfile *out = good("/dev/full");
    fputs("x", hy_outfile_stream(out));
    cr_assert_eq(hy_outfile_finish(out, &diag), 0);
    cr_assert_eq(hy_outfile_commit(out, &diag), -1);
    cr_assert_str_eq(diag.text, "cannot write /dev/full: the disk is full");
}

Test(outfile, a_device_stays_a_device)
{
    hy_outfile *out = good("/dev/null");
    fputs("x", hy_outfile_stream(out));
    cr_assert_eq(hy_outfile_commit(out, &diag), 0);
    struct stat st;
    cr_assert_eq(stat("/dev/null", &st), 0);
    cr_assert(S_ISCHR(st.st_mode));
}

Test(outfile, full_disk)
{
    const char *disk = scratch("disk");
    mkdir(disk, 0777);
    if (geteuid() != 0 || mount("tmpfs", disk, "tmpfs", 0, "size=64k") != 0) {
        cr_skip("mounting a small disk needs root");
    }
    hy_outfile *out = good(scratch("disk/a"));
    char block[1000] = {1};
    for (int i = 0; i < 200; i++) {
        fwrite(block, 1, sizeof block, hy_outfile_stream(out));
    }
    int finished = hy_outfile_finish(out, &diag);
    hy_outfile_abandon(out);
    int left = access(scratch("disk/a"), F_OK);
    umount(disk);
    cr_assert_eq(finished, -1);
    cr_assert(strstr(diag.text, "/disk/a: the disk is full") != NULL || strstr(diag.text, "earlier write") != NULL,
              "%s", diag.text);
    cr_assert_neq(left, 0);
}

/* Runs `act` in a child, returns how it ended as waitpid tells it. */
static int in_child(void (*act)(void))
{
    fflush(NULL);
    pid_t child = fork();
    if (child == 0) {
        act();
        _exit(0);
    }
    int status = 0;
    waitpid(child, &status, 0);
    return status;
}

static void meet_file_limit(void)
{
    struct rlimit limit = {10000, 10000};
    hy_outfile_clean_on_signal();
    setrlimit(RLIMIT_FSIZE, &limit);
    hy_outfile *out = good(scratch("a"));
    for (int i = 0; i < 20000; i++) {
        putc('x', hy_outfile_stream(out));
    }
    int result = hy_outfile_finish(out, &diag);
    hy_outfile_abandon(out);
    _exit(result == -1 && strstr(diag.text, "cannot write ") == diag.text ? 0 : 1);
}

Test(outfile, a_limit_on_file_size_is_an_error_like_any_other)
{
    cr_assert_eq(in_child(meet_file_limit), 0);
    cr_assert_eq(scratch_count(), 0);
}

static int deadly;

static void be_interrupted(void)
{
    hy_outfile_clean_on_signal();
    hy_outfile *gone = good(scratch("gone"));
    hy_outfile_commit(gone, &diag);
    hy_outfile *out = good(scratch("a"));
    good(scratch("b"));
    good("-");
    fputs("half", hy_outfile_stream(out));
    fflush(hy_outfile_stream(out));
    raise(deadly);
}

Test(outfile, an_interrupted_program_leaves_nothing_half_done)
{
    static const int signals[] = {SIGINT, SIGTERM, SIGHUP, SIGPIPE};
    for (size_t i = 0; i < sizeof signals / sizeof signals[0]; i++) {
        deadly = signals[i];
        int status = in_child(be_interrupted);
        cr_assert(WIFSIGNALED(status) && WTERMSIG(status) == deadly, "status %x", (unsigned)status);
        cr_assert_eq(scratch_count(), 1, "only what was committed");
    }
}

static void ignore_hangup(void)
{
    signal(SIGHUP, SIG_IGN); /* as nohup does */
    hy_outfile_clean_on_signal();
    raise(SIGHUP);
}

Test(outfile, ignored_signals_stay_ignored)
{
    cr_assert_eq(in_child(ignore_hangup), 0);
}

static void write_to_standard_output(void)
{
    int fd = open(scratch("stdout"), O_WRONLY | O_CREAT | O_TRUNC, 0600);
    dup2(fd, STDOUT_FILENO);
    printf("before ");
    hy_outfile *out = good("-");
    fputs("....data", hy_outfile_stream(out));
    rewind(hy_outfile_stream(out));
    fputs("good", hy_outfile_stream(out));
    _exit(hy_outfile_commit(out, &diag) == 0 ? 0 : 1);
}

Test(outfile, standard_output_gets_all_at_commit)
{
    cr_assert_eq(in_child(write_to_standard_output), 0);
    check_text(scratch("stdout"), "before gooddata");
    cr_assert_eq(scratch_count(), 1);
}

static void write_without_standard_files(void)
{
    close(0);
    close(1);
    close(2);
    hy_outfile *out = hy_outfile_open(scratch("a"), &diag);
    int high = out != NULL && hy_outfile_descriptor(out) > 2;
    int none =
        hy_outfile_open("-", &diag) == NULL && strcmp(diag.text, "cannot write standard output: it is closed") == 0;
    _exit(high && none && hy_outfile_commit(out, &diag) == 0 ? 0 : 1);
}

Test(outfile, closed_standard_files_do_no_harm)
{
    cr_assert_eq(in_child(write_without_standard_files), 0);
    check_text(scratch("a"), "");
}

Test(outfile, too_many_at_once)
{
    enum { MOST = 224 }; /* a sweep of 200 sound files, and tables */
    hy_outfile *out[MOST];
    char name[16];
    for (int i = 0; i < MOST; i++) {
        snprintf(name, sizeof name, "%d", i);
        out[i] = good(scratch(name));
    }
    cr_assert_null(hy_outfile_open(scratch("more"), &diag));
    for (int i = 0; i < MOST; i++) {
        hy_outfile_abandon(out[i]);
    }
    cr_assert_eq(scratch_count(), 0);
}
