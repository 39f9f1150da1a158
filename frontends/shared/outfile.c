#define _XOPEN_SOURCE 700 /* realpath */

#include "outfile.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "outfile_private.h"

struct hy_outfile {
    char *path;   /* as the user gave it, for messages */
    char *target; /* what the temporary file will be renamed to, links followed; null: copied at commit */
    char *temp;   /* null once it is gone */
    FILE *stream;
    int slot; /* in the table of names that a signal takes away */
    int finished;
};

static const char *reason(int error)
{
    switch (error) {
    case ENOSPC:
        return "the disk is full";
    case EDQUOT:
        return "the disk quota is used up";
    case EFBIG:
        return "the file would become larger than allowed";
    case EACCES:
    case EPERM:
        return "permission denied";
    case EROFS:
        return "the file system is read-only";
    case EISDIR:
        return "it is a folder";
    case EPIPE:
        return "the reader has gone";
    case ENAMETOOLONG:
        return "the name is too long";
    default:
        return error != 0 ? strerror(error) : "unknown error";
    }
}

static const char *name_of(const hy_outfile *out)
{
    return strcmp(out->path, "-") == 0 ? "standard output" : out->path;
}

int hy_outfile_fail(const hy_outfile *out, int error, hy_diag *diag)
{
    return hy_fail(diag, "cannot write %s: %s", name_of(out), reason(error));
}

static char *folder_of(const char *path)
{
    const char *slash = strrchr(path, '/');
    if (slash == NULL) {
        return strdup(".");
    }
    return strndup(path, slash == path ? 1 : (size_t)(slash - path));
}

static void release_slot(hy_outfile *out)
{
    hy_outfile_unguard(out->slot);
    out->slot = -1;
}

/* Asking for the umask means setting it; the strict value in between can only make another thread's file too private. */
static mode_t new_file_mode(void)
{
    mode_t mask = umask(077);
    umask(mask);
    return 0666 & ~mask;
}

/* Descriptors 0 to 2 are free if the program was started with one of them closed; a message to standard error
 * must not land in an output file. */
static int above_standard(int fd)
{
    int moved = fcntl(fd, F_DUPFD_CLOEXEC, 3);
    int error = errno;
    close(fd);
    errno = error;
    return moved;
}

/* Creates the temporary file in a folder. Signals wait meanwhile: a file that the table does not know yet would stay. */
static int create(hy_outfile *out, const char *folder, hy_diag *diag)
{
    static const char tail[] = "/.hyoid-XXXXXX";
    size_t size = strlen(folder) + sizeof tail;
    out->slot = hy_guard_claim();
    if (out->slot < 0) {
        return hy_fail(diag, "cannot write %s: more than %d output files at once", out->path, HY_GUARDS);
    }
    out->temp = malloc(size);
    if (out->temp == NULL || size > HY_GUARD_SIZE) {
        free(out->temp);
        out->temp = NULL;
        return hy_outfile_fail(out, size > HY_GUARD_SIZE ? ENAMETOOLONG : ENOMEM, diag);
    }
    snprintf(out->temp, size, "%s%s", folder, tail);

    sigset_t all;
    sigset_t before;
    sigfillset(&all);
    sigprocmask(SIG_BLOCK, &all, &before);
    int fd = mkstemp(out->temp);
    int error = errno;
    if (fd >= 0) {
        hy_guard_name(out->slot, out->temp, size, 0);
    }
    sigprocmask(SIG_SETMASK, &before, NULL);
    if (fd < 0) {
        free(out->temp);
        out->temp = NULL;
        return hy_outfile_fail(out, error, diag);
    }
    fd = above_standard(fd);
    out->stream = fd < 0 ? NULL : fdopen(fd, "w+b");
    if (out->stream == NULL) {
        error = errno;
        if (fd >= 0) {
            close(fd);
        }
        return hy_outfile_fail(out, error, diag);
    }
    return 0;
}

/* Somewhere to collect what will be copied at commit: nobody but us ever sees the file. */
static int open_spool(hy_outfile *out, hy_diag *diag)
{
    const char *folder = getenv("TMPDIR");
    if (create(out, folder != NULL && folder[0] != '\0' ? folder : "/tmp", diag) != 0 || out->temp == NULL) {
        return -1;
    }
    unlink(out->temp);
    free(out->temp);
    out->temp = NULL;
    release_slot(out);
    return 0;
}

static int open_beside(hy_outfile *out, mode_t mode, hy_diag *diag)
{
    char *folder = folder_of(out->target);
    if (folder == NULL) {
        return hy_outfile_fail(out, ENOMEM, diag);
    }
    struct stat st;
    int result = -1;
    if (stat(folder, &st) != 0) {
        if (errno == ENOENT) {
            hy_fail(diag, "cannot write %s: the folder %s does not exist", out->path, folder);
        } else {
            hy_outfile_fail(out, errno, diag);
        }
    } else if (!S_ISDIR(st.st_mode)) {
        hy_fail(diag, "cannot write %s: %s is not a folder", out->path, folder);
    } else if (create(out, folder, diag) == 0) {
        result = fchmod(fileno(out->stream), mode) == 0 ? 0 : hy_outfile_fail(out, errno, diag);
    }
    free(folder);
    return result;
}

/* In a folder like /tmp only its owner may replace a file, however writable it is. Better said now than at the rename,
 * when other outputs may be in place already. */
static int kept_by_owner(const char *path, const struct stat *file)
{
    struct stat folder;
    char *name = folder_of(path);
    int kept = name != NULL && stat(name, &folder) == 0 && (folder.st_mode & S_ISVTX) != 0 && geteuid() != 0 &&
               file->st_uid != geteuid() && folder.st_uid != geteuid();
    free(name);
    return kept;
}

static int open_any(hy_outfile *out, hy_diag *diag)
{
    if (strcmp(out->path, "-") == 0) {
        if (fcntl(STDOUT_FILENO, F_GETFD) < 0) {
            return hy_fail(diag, "cannot write standard output: it is closed");
        }
        return open_spool(out, diag);
    }
    size_t length = strlen(out->path);
    if (length == 0) {
        return hy_fail(diag, "cannot write the output: its name is empty");
    }
    struct stat st;
    if (stat(out->path, &st) == 0) {
        if (S_ISDIR(st.st_mode)) {
            return hy_outfile_fail(out, EISDIR, diag);
        }
        if (access(out->path, W_OK) != 0) {
            return hy_outfile_fail(out, errno, diag);
        }
        if (!S_ISREG(st.st_mode)) {
            return open_spool(out, diag); /* a device or a pipe: a rename would replace it by a file */
        }
        if (kept_by_owner(out->path, &st)) {
            return hy_outfile_fail(out, EPERM, diag);
        }
        out->target = realpath(out->path, NULL); /* a link stays a link, its target is replaced */
        return out->target == NULL ? hy_outfile_fail(out, errno, diag) : open_beside(out, st.st_mode & 07777, diag);
    }
    int error = errno;
    if (error == ENAMETOOLONG || error == ELOOP) {
        return hy_outfile_fail(out, error, diag);
    }
    if (lstat(out->path, &st) == 0) { /* a rename would replace the link itself */
        return hy_fail(diag, "cannot write %s: it is a link that leads nowhere", name_of(out));
    }
    if (out->path[length - 1] == '/') {
        return hy_outfile_fail(out, EISDIR, diag);
    }
    out->target = strdup(out->path);
    return out->target == NULL ? hy_outfile_fail(out, ENOMEM, diag) : open_beside(out, new_file_mode(), diag);
}

hy_outfile *hy_outfile_open(const char *path, hy_diag *diag)
{
    hy_outfile *out = calloc(1, sizeof *out);
    if (out != NULL) {
        out->slot = -1;
        out->path = strdup(path);
    }
    if (out == NULL || out->path == NULL) {
        free(out);
        hy_fail(diag, "cannot write %s: out of memory", path);
        return NULL;
    }
    if (open_any(out, diag) != 0) {
        hy_outfile_abandon(out);
        return NULL;
    }
    return out;
}

FILE *hy_outfile_stream(hy_outfile *out)
{
    return out->stream;
}

int hy_outfile_descriptor(hy_outfile *out)
{
    return fileno(out->stream);
}

int hy_outfile_finish(hy_outfile *out, hy_diag *diag)
{
    if (fflush(out->stream) != 0) {
        return hy_outfile_fail(out, errno, diag);
    }
    if (ferror(out->stream)) { /* its errno is long gone */
        return hy_fail(diag, "cannot write %s: an earlier write failed", name_of(out));
    }
    /* Some file systems find out only here that there is no room. */
    if (out->target != NULL && fsync(fileno(out->stream)) != 0 && errno != EINVAL && errno != EROFS) {
        return hy_outfile_fail(out, errno, diag);
    }
    out->finished = 1;
    return 0;
}

static int write_all(int fd, const char *data, size_t size)
{
    while (size > 0) {
        ssize_t done = write(fd, data, size);
        if (done < 0 && errno == EINTR) {
            continue;
        }
        if (done < 0) {
            return -1;
        }
        data += done;
        size -= (size_t)done;
    }
    return 0;
}

static int copy_out(hy_outfile *out, int to, hy_diag *diag)
{
    char block[65536];
    off_t at = 0;
    for (;;) {
        ssize_t got = pread(fileno(out->stream), block, sizeof block, at);
        if (got < 0 && errno == EINTR) {
            continue;
        }
        if (got == 0) {
            return 0;
        }
        if (got < 0 || write_all(to, block, (size_t)got) != 0) {
            return hy_outfile_fail(out, errno, diag);
        }
        at += got;
    }
}

static int deliver(hy_outfile *out, hy_diag *diag)
{
    if (out->target != NULL) {
        if (rename(out->temp, out->target) != 0) {
            return hy_outfile_fail(out, errno, diag);
        }
        free(out->temp);
        out->temp = NULL;
        return 0;
    }
    if (strcmp(out->path, "-") == 0) {
        fflush(stdout); /* what was printed before comes before */
        return copy_out(out, STDOUT_FILENO, diag);
    }
    int fd = open(out->path, O_WRONLY | O_NOCTTY | O_CLOEXEC);
    if (fd < 0) {
        return hy_outfile_fail(out, errno, diag);
    }
    int result = copy_out(out, fd, diag);
    if (close(fd) != 0 && result == 0) {
        result = hy_outfile_fail(out, errno, diag);
    }
    return result;
}

int hy_outfile_commit(hy_outfile *out, hy_diag *diag)
{
    int result = out->finished ? 0 : hy_outfile_finish(out, diag);
    if (result == 0) {
        result = deliver(out, diag);
    }
    hy_outfile_abandon(out); /* after a rename there is nothing left to remove */
    return result;
}

void hy_outfile_abandon(hy_outfile *out)
{
    if (out == NULL) {
        return;
    }
    if (out->temp != NULL) {
        unlink(out->temp);
    }
    release_slot(out);
    if (out->stream != NULL) {
        fclose(out->stream);
    }
    free(out->temp);
    free(out->target);
    free(out->path);
    free(out);
}
