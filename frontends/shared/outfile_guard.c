/* The names of temporary files, so that a signal that ends the program can take them away. */
#include <signal.h>
#include <stdatomic.h>
#include <string.h>
#include <unistd.h>

#include "outfile.h"
#include "outfile_private.h"

static char names[HY_GUARDS][HY_GUARD_SIZE];
static atomic_int
    name_state[HY_GUARDS]; /* 0 free, 1 being filled in, 2 a file to remove, 3 a folder to remove after them */

static void remove_all_and_die(int signal_number)
{
    for (int i = 0; i < HY_GUARDS; i++) {
        if (atomic_load(&name_state[i]) == 2) {
            unlink(names[i]);
        }
    }
    for (int i = 0; i < HY_GUARDS; i++) {
        if (atomic_load(&name_state[i]) == 3) {
            rmdir(names[i]);
        }
    }
    signal(signal_number, SIG_DFL);
    raise(signal_number); /* pending until the handler returns; then the shell sees the true cause of death */
}

void hy_outfile_clean_on_signal(void)
{
    static const int deadly[] = {SIGINT, SIGTERM, SIGHUP, SIGPIPE};
    struct sigaction action = {.sa_handler = remove_all_and_die};
    sigfillset(&action.sa_mask);
    for (size_t i = 0; i < sizeof deadly / sizeof deadly[0]; i++) {
        struct sigaction before;
        if (sigaction(deadly[i], NULL, &before) == 0 && before.sa_handler != SIG_IGN) {
            sigaction(deadly[i], &action, NULL);
        }
    }
    signal(SIGXFSZ, SIG_IGN);
}

int hy_guard_claim(void)
{
    for (int i = 0; i < HY_GUARDS; i++) {
        int free_state = 0;
        if (atomic_compare_exchange_strong(&name_state[i], &free_state, 1)) {
            return i;
        }
    }
    return -1;
}

void hy_guard_name(int guard, const char *path, size_t size, int folder)
{
    memcpy(names[guard], path, size);
    atomic_store(&name_state[guard], folder ? 3 : 2);
}

int hy_outfile_guard(const char *path, int folder)
{
    const size_t size = strlen(path) + 1;
    const int slot = size <= HY_GUARD_SIZE ? hy_guard_claim() : -1;
    if (slot >= 0) {
        hy_guard_name(slot, path, size, folder);
    }
    return slot;
}

void hy_outfile_unguard(int guard)
{
    if (guard >= 0) {
        atomic_store(&name_state[guard], 0);
    }
}
