/* Marks of a WAV. libsndfile 1.2 writes cue points without their names, ahead of the data, in a header whose size is
 * limited (ten thousand points make a file that it can't read back). So the chunks are written here, behind the data,
 * where any number of them fits; libsndfile and everyone else reads them there.
 *
 *   cue   count, then 24 bytes a point: id, position, 'data', 0, 0, sample offset
 *   LIST  adtl, then for each point: labl, size, id, name, 0 [, pad]
 */
#include "sound_parts.h"

#include <errno.h>
#include <string.h>

static int put(FILE *file, const void *data, size_t size)
{
    return fwrite(data, 1, size, file) == size ? 0 : -1;
}

static int put32(FILE *file, uint64_t value)
{
    unsigned char b[4] = {(unsigned char)(value & 255), (unsigned char)(value >> 8 & 255),
                          (unsigned char)(value >> 16 & 255), (unsigned char)(value >> 24 & 255)};
    return put(file, b, 4);
}

static uint64_t label_size(const char *name)
{
    return 4 + strlen(name) + 1; /* id, text, closing zero; a pad byte to even is not counted */
}

static int put_points(FILE *file, const hy_sound_cue *cues, size_t count)
{
    int failed = put(file, "cue ", 4) | put32(file, 4 + 24 * (uint64_t)count) | put32(file, count);
    for (size_t i = 0; i < count; i++) {
        int64_t frame = cues[i].frame;
        uint64_t at = frame < 0 ? 0 : (uint64_t)frame;
        failed |= put32(file, i + 1) | put32(file, at) | put(file, "data\0\0\0\0\0\0\0\0", 12) | put32(file, at);
    }
    return failed;
}

static int put_names(FILE *file, const hy_sound_cue *cues, size_t count)
{
    uint64_t size = 4;
    for (size_t i = 0; i < count; i++) {
        uint64_t label = label_size(cues[i].name);
        size += 8 + label + (label & 1);
    }
    int failed = put(file, "LIST", 4) | put32(file, size) | put(file, "adtl", 4);
    for (size_t i = 0; i < count; i++) {
        uint64_t label = label_size(cues[i].name);
        failed |= put(file, "labl", 4) | put32(file, label) | put32(file, i + 1) |
                  put(file, cues[i].name, strlen(cues[i].name)) | put(file, "\0", 1 + (size_t)(label & 1));
    }
    return failed;
}

int hy_wav_append_marks(FILE *file, const hy_sound_cue *cues, size_t count)
{
    if (count == 0) {
        return 0;
    }
    errno = 0;
    if (fseeko(file, 0, SEEK_END) != 0) {
        return -1;
    }
    off_t end = ftello(file);
    int failed = end % 2 != 0 ? put(file, "\0", 1) : 0; /* chunks start at even places */
    failed |= put_points(file, cues, count) | put_names(file, cues, count);
    end = ftello(file);
    if (failed || end < 0 || end - 8 > (off_t)UINT32_MAX) {
        errno = failed == 0 && end >= 0 ? EFBIG : errno;
        return -1;
    }
    if (fseeko(file, 4, SEEK_SET) != 0 || put32(file, (uint64_t)end - 8) != 0) {
        return -1;
    }
    return fflush(file) == 0 ? 0 : -1;
}
