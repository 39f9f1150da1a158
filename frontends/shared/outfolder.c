#define _XOPEN_SOURCE 700 /* mkdtemp */

#include "outfolder.h"

#include <errno.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "outfile.h"

enum { FILES = 16 };

struct hy_outfolder {
    char *path; /* as the user gave it, without slashes at its end */
    char *temp; /* null once it is gone */
    int guard;
    char *places[FILES];
    int guards[FILES];
    int count;
};

static int cannot(const hy_outfolder *folder, int error, hy_diag *diag)
{
    return hy_fail(diag, "cannot write %s: %s", folder->path, strerror(error));
}

static int must_be_new(const hy_outfolder *folder, hy_diag *diag)
{
    struct stat status;
    if (lstat(folder->path, &status) == 0) {
        return hy_fail(diag, "%s exists already; the name of a new folder would be right", folder->path);
    }
    return errno == ENOENT ? 0 : cannot(folder, errno, diag);
}

/* Signals wait meanwhile: a folder that nobody knows yet would stay. */
static int make(hy_outfolder *folder, hy_diag *diag)
{
    sigset_t all;
    sigset_t before;
    sigfillset(&all);
    sigprocmask(SIG_BLOCK, &all, &before);
    const int made = mkdtemp(folder->temp) != NULL;
    const int error = errno;
    folder->guard = made ? hy_outfile_guard(folder->temp, 1) : -1;
    sigprocmask(SIG_SETMASK, &before, NULL);
    if (!made) {
        free(folder->temp);
        folder->temp = NULL;
        return error == ENOENT
                   ? hy_fail(diag, "cannot write %s: the folder that it should stand in does not exist", folder->path)
                   : cannot(folder, error, diag);
    }
    const mode_t mask = umask(077);
    umask(mask);
    return chmod(folder->temp, 0777 & ~mask) == 0 ? 0 : cannot(folder, errno, diag);
}

hy_outfolder *hy_outfolder_open(const char *path, hy_diag *diag)
{
    static const char name[] = ".hyoid-XXXXXX";
    size_t length = strlen(path);
    while (length > 1 && path[length - 1] == '/') {
        length--;
    }
    hy_outfolder *folder = calloc(1, sizeof *folder);
    if (folder == NULL || (folder->path = strndup(path, length)) == NULL ||
        (folder->temp = malloc(length + sizeof name)) == NULL) {
        hy_fail(diag, "cannot write %s: out of memory", path);
        goto failed;
    }
    folder->guard = -1;
    const char *slash = strrchr(folder->path, '/');
    const int head = slash != NULL ? (int)(slash - folder->path) + 1 : 0;
    snprintf(folder->temp, length + sizeof name, "%.*s%s", head, folder->path, name);
    if (length == 0) {
        hy_fail(diag, "cannot write the output folder: its name is empty");
    } else if (must_be_new(folder, diag) == 0 && make(folder, diag) == 0) {
        return folder;
    }
    if (folder->guard < 0) { /* it was not made */
        free(folder->temp);
        folder->temp = NULL;
    }
failed:
    hy_outfolder_abandon(folder);
    return NULL;
}

const char *hy_outfolder_place(hy_outfolder *folder, const char *name, hy_diag *diag)
{
    const size_t size = strlen(folder->temp) + strlen(name) + 2;
    char *place = folder->count < FILES ? malloc(size) : NULL;
    if (place == NULL) {
        hy_fail(diag, "cannot write %s/%s: no room", folder->path, name);
        return NULL;
    }
    snprintf(place, size, "%s/%s", folder->temp, name);
    folder->places[folder->count] = place;
    folder->guards[folder->count] = hy_outfile_guard(place, 0);
    folder->count++;
    return place;
}

FILE *hy_outfolder_file(hy_outfolder *folder, const char *name, hy_diag *diag)
{
    const char *place = hy_outfolder_place(folder, name, diag);
    FILE *file = place != NULL ? fopen(place, "wb") : NULL;
    if (place != NULL && file == NULL) {
        cannot(folder, errno, diag);
    }
    return file;
}

int hy_outfolder_close(hy_outfolder *folder, FILE *file, hy_diag *diag)
{
    errno = 0;
    const int failed = fflush(file) != 0 || ferror(file);
    const int error = errno;
    const int unclosed = fclose(file) != 0;
    if (failed || unclosed) {
        return cannot(folder, failed && error != 0 ? error : unclosed ? errno : EIO, diag);
    }
    return 0;
}

const char *hy_outfolder_now(const hy_outfolder *folder)
{
    return folder->temp;
}

int hy_outfolder_commit(hy_outfolder *folder, hy_diag *diag)
{
    int result = must_be_new(folder, diag);
    if (result == 0 && rename(folder->temp, folder->path) != 0) {
        result = cannot(folder, errno, diag);
    }
    if (result == 0) {
        free(folder->temp);
        folder->temp = NULL;
    }
    hy_outfolder_abandon(folder);
    return result;
}

void hy_outfolder_abandon(hy_outfolder *folder)
{
    if (folder == NULL) {
        return;
    }
    for (int i = 0; i < folder->count; i++) {
        if (folder->temp != NULL) {
            unlink(folder->places[i]);
        }
        hy_outfile_unguard(folder->guards[i]);
        free(folder->places[i]);
    }
    if (folder->temp != NULL) {
        rmdir(folder->temp);
    }
    hy_outfile_unguard(folder->guard);
    free(folder->temp);
    free(folder->path);
    free(folder);
}
