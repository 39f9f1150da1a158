#include "scratch.h"

#include <criterion/criterion.h>
#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static char folder[64];

void scratch_begin(void)
{
    strcpy(folder, "/tmp/hyoid-test-XXXXXX");
    cr_assert_not_null(mkdtemp(folder));
}

static int each(int (*act)(const char *path))
{
    int count = 0;
    DIR *dir = opendir(folder);
    cr_assert_not_null(dir);
    for (struct dirent *entry = readdir(dir); entry != NULL; entry = readdir(dir)) {
        if (strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0) {
            count++;
            if (act != NULL) {
                act(scratch(entry->d_name));
            }
        }
    }
    closedir(dir);
    return count;
}

void scratch_end(void)
{
    each(remove);
    rmdir(folder);
}

const char *scratch(const char *name)
{
    static char paths[8][400];
    static unsigned next;
    char *path = paths[next++ % 8];
    snprintf(path, sizeof paths[0], "%s/%s", folder, name);
    return path;
}

int scratch_count(void)
{
    return each(NULL);
}

char *scratch_read(const char *path, size_t *size)
{
    FILE *in = fopen(path, "rb");
    cr_assert_not_null(in, "%s can't be opened", path);
    fseek(in, 0, SEEK_END);
    long length = ftell(in);
    rewind(in);
    char *bytes = malloc((size_t)length + 1);
    cr_assert_not_null(bytes);
    cr_assert_eq(fread(bytes, 1, (size_t)length, in), (size_t)length);
    bytes[length] = '\0';
    fclose(in);
    if (size != NULL) {
        *size = (size_t)length;
    }
    return bytes;
}

void scratch_same(const char *path, const char *other)
{
    size_t size;
    size_t other_size;
    char *bytes = scratch_read(path, &size);
    char *other_bytes = scratch_read(other, &other_size);
    cr_assert_gt(size, 0);
    cr_assert_eq(size, other_size);
    cr_assert_eq(memcmp(bytes, other_bytes, size), 0);
    free(bytes);
    free(other_bytes);
}
