/* Where the project's files are: the environment (ctest) or what the build was told. */
#ifndef SOURCE_DIR_H
#define SOURCE_DIR_H

#include <stdio.h>
#include <stdlib.h>

static inline const char *source_dir(void)
{
    const char *dir = getenv("HYOID_SOURCE");
    return dir != NULL ? dir : HYOID_SOURCE_DIR;
}

/* A file under reference/; missing data must fail a test, not skip it. */
static inline FILE *open_reference(const char *name)
{
    char path[4096];
    snprintf(path, sizeof path, "%s/reference/%s", source_dir(), name);
    FILE *file = fopen(path, "r");
    if (file == NULL) {
        perror(path);
        abort();
    }
    return file;
}

#endif
