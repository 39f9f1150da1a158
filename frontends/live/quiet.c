#include "quiet.h"

#include <fcntl.h>
#include <unistd.h>

static FILE *own; /* the old standard error while it is away: there is one per process */

FILE *hy_quiet_begin(int verbose)
{
    if (verbose || own != NULL) {
        return own != NULL ? own : stderr;
    }
    fflush(stderr);
    const int kept = fcntl(STDERR_FILENO, F_DUPFD_CLOEXEC, 3);
    own = kept >= 0 ? fdopen(kept, "w") : NULL;
    if (own == NULL) {
        if (kept >= 0) {
            close(kept);
        }
        return stderr;
    }
    setvbuf(own, NULL, _IOLBF, 0);
    const int nowhere = open("/dev/null", O_WRONLY | O_CLOEXEC);
    if (nowhere >= 0) {
        dup2(nowhere, STDERR_FILENO);
        close(nowhere);
    }
    return own;
}

void hy_quiet_end(void)
{
    if (own != NULL) {
        fflush(stderr);
        fflush(own);
        dup2(fileno(own), STDERR_FILENO);
        fclose(own);
        own = NULL;
    }
}
