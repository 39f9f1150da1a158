/* A trap for code that must not allocate, lock or call the system.
 *
 * A child lives on under the strictest rule that the kernel knows: after it, any system call but read, write and
 * exit kills it. So an allocator that grows, a lock that waits, a file or a clock all show. The allocator's and
 * the locks' doors are replaced besides: a call that would get by without the kernel shows too.
 *
 * Include it first, and in one file of a program only. */
#ifndef HY_TEST_REALTIME_TRAP_H
#define HY_TEST_REALTIME_TRAP_H

#define _GNU_SOURCE
#include <linux/seccomp.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

static volatile int trapped; /* 1: inside the audio path; 2: trying the trap */

static void caught(const char *what)
{
    if (trapped == 2) { /* only to see that it is seen */
        syscall(SYS_exit, 3);
    }
    if (trapped) {
        static const char text[] = "the audio path calls ";
        ssize_t ignored = write(2, text, sizeof text - 1);
        ignored = write(2, what, strlen(what));
        ignored = write(2, "\n", 1);
        (void)ignored;
        syscall(SYS_exit, 3);
    }
}

/* glibc's own, under the names that it keeps for replacements like these */
extern void *__libc_malloc(size_t size);
extern void *__libc_calloc(size_t count, size_t size);
extern void *__libc_realloc(void *old, size_t size);
extern void __libc_free(void *memory);

void *malloc(size_t size)
{
    caught("malloc");
    return __libc_malloc(size);
}

void *calloc(size_t count, size_t size)
{
    caught("calloc");
    return __libc_calloc(count, size);
}

void *realloc(void *old, size_t size)
{
    caught("realloc");
    return __libc_realloc(old, size);
}

void free(void *memory)
{
    caught("free");
    __libc_free(memory);
}

int pthread_mutex_lock(pthread_mutex_t *mutex)
{
    (void)mutex;
    caught("pthread_mutex_lock");
    return 0;
}

/* mode 0: the audio path; 1: an allocation, which must be seen; 2: a system call, which must be seen */
static int trap_child(int mode, int (*audio_path)(void))
{
    pid_t pid = fork();
    if (pid == 0) {
        if (prctl(PR_SET_SECCOMP, SECCOMP_MODE_STRICT) != 0) {
            _exit(77);
        }
        trapped = mode == 1 ? 2 : 1;
        if (mode == 1) {
            void *volatile memory = malloc(10); /* an unused one would be optimised away */
            free(memory);
        } else if (mode == 2) {
            getppid();
        }
        syscall(SYS_exit, mode == 0 ? audio_path() : 0);
    }
    int status;
    waitpid(pid, &status, 0);
    return WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
}

/* 0: the path got through and returned 0; else the exit status of a test, with a reason on standard error. */
static int trap_try(int (*audio_path)(void))
{
    int status = trap_child(2, audio_path);
    if (status == 77) {
        fprintf(stderr, "%s: this kernel has no seccomp\n", getenv("CI") != NULL ? "FAIL" : "SKIP");
        return getenv("CI") != NULL ? 1 : 77;
    }
    if (status < 128) {
        fprintf(stderr, "FAIL: a system call went unseen\n");
        return 1;
    }
    if (trap_child(1, audio_path) != 3) {
        fprintf(stderr, "FAIL: an allocation went unseen\n");
        return 1;
    }
    status = trap_child(0, audio_path);
    if (status != 0) {
        fprintf(stderr, "FAIL: the audio path ended with status %d\n", status);
        return 1;
    }
    return 0;
}

#endif
