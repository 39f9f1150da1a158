/* Texts and files as inputs of the unit tests. */
#ifndef HY_TEST_INPUTS_H
#define HY_TEST_INPUTS_H

#include <criterion/criterion.h>
#include <dirent.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "source_dir.h"

static inline FILE *source_file(const char *path)
{
    char full[1024];
    cr_assert_lt((size_t)snprintf(full, sizeof full, "%s/%s", source_dir(), path), sizeof full);
    FILE *file = fopen(full, "rb");
    cr_assert_not_null(file, "%s can't be opened", full);
    return file;
}

/* All of a file in the source; the caller frees it. */
static inline char *source_text(const char *path)
{
    FILE *file = source_file(path);
    cr_assert_eq(fseek(file, 0, SEEK_END), 0);
    long size = ftell(file);
    cr_assert_geq(size, 0);
    rewind(file);
    char *text = malloc((size_t)size + 1);
    cr_assert_not_null(text);
    cr_assert_eq(fread(text, 1, (size_t)size, file), (size_t)size);
    text[size] = '\0';
    fclose(file);
    return text;
}

/* A stream with these bytes in it, at its start. */
static inline FILE *text_stream(const char *text, size_t size)
{
    FILE *file = tmpfile();
    cr_assert_not_null(file);
    cr_assert_eq(fwrite(text, 1, size, file), size);
    rewind(file);
    return file;
}

/* For every input in the folder tests/bad/FOLDER (names that end in `suffix`): `read` it and compare the message, which read
 * leaves in the buffer, with the .expect file beside it. Fails the test for each that differs, and if fewer than `least` are
 * found. */
static inline void check_bad_inputs(const char *folder, const char *suffix, size_t least,
                                    void (*read)(FILE *in, const char *name, char *message, size_t size))
{
    char path[1024];
    char relative[512];
    cr_assert_lt((size_t)snprintf(path, sizeof path, "%s/tests/bad/%s", source_dir(), folder), sizeof path);
    DIR *dir = opendir(path);
    cr_assert_not_null(dir, "%s can't be opened", path);
    size_t found = 0;
    for (struct dirent *entry = readdir(dir); entry != NULL; entry = readdir(dir)) {
        size_t length = strlen(entry->d_name);
        size_t end = strlen(suffix);
        if (length <= end || strcmp(entry->d_name + length - end, suffix) != 0) {
            continue;
        }
        found++;
        snprintf(relative, sizeof relative, "tests/bad/%s/%.*s.expect", folder, (int)(length - end), entry->d_name);
        char *expected = source_text(relative);
        expected[strcspn(expected, "\n")] = '\0';
        snprintf(relative, sizeof relative, "tests/bad/%s/%s", folder, entry->d_name);
        FILE *in = source_file(relative);
        char message[800] = "";
        read(in, entry->d_name, message, sizeof message);
        fclose(in);
        cr_expect_str_eq(message, expected);
        free(expected);
    }
    closedir(dir);
    cr_expect_geq(found, least, "only %zu bad inputs in %s", found, path);
}

#endif
