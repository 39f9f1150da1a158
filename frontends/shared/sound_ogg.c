/* The serial number of an Ogg stream. libsndfile draws it at random (RFC 3533 asks for nothing but that streams in one
 * file differ), so that two runs would give different bytes; it has no call to choose it. Each page is given
 * a fixed number and its checksum anew.
 *
 *   page: "OggS" 0 flags granule[8] serial[4] sequence[4] crc[4] segments lengths[segments] body
 */
#include "sound_parts.h"

#include <errno.h>
#include <string.h>

enum { HEADER = 27, SERIAL_AT = 14, CRC_AT = 22, PAGE_MAX = HEADER + 255 + 255 * 255 };
static const uint32_t serial = 0x68796f69; /* any value will do */

static void store32(unsigned char *at, uint32_t value)
{
    for (int i = 0; i < 4; i++) {
        at[i] = (unsigned char)(value >> (8 * i) & 255);
    }
}

/* RFC 3533: polynomial 0x04c11db7, most significant bit first, starts at 0, no final inversion. */
static uint32_t checksum(const unsigned char *data, size_t size)
{
    uint32_t table[256];
    for (uint32_t i = 0; i < 256; i++) {
        uint32_t r = i << 24;
        for (int bit = 0; bit < 8; bit++) {
            r = (r & 0x80000000u) != 0 ? r << 1 ^ 0x04c11db7u : r << 1;
        }
        table[i] = r;
    }
    uint32_t crc = 0;
    for (size_t i = 0; i < size; i++) {
        crc = crc << 8 ^ table[(crc >> 24 ^ data[i]) & 255];
    }
    return crc;
}

int hy_ogg_fix_serial(FILE *file)
{
    unsigned char page[PAGE_MAX];
    off_t at = 0;
    for (;;) {
        errno = 0;
        if (fseeko(file, at, SEEK_SET) != 0) {
            return -1;
        }
        size_t got = fread(page, 1, sizeof page, file);
        if (got == 0) {
            return ferror(file) ? -1 : fflush(file);
        }
        size_t size = HEADER;
        int whole = got >= size && memcmp(page, "OggS", 5) == 0;
        if (whole) {
            size += page[26];
            whole = got >= size;
        }
        for (size_t i = HEADER, end = size; whole && i < end; i++) {
            size += page[i];
        }
        if (!whole || got < size) {
            errno = EIO; /* not what libsndfile writes */
            return -1;
        }
        store32(page + SERIAL_AT, serial);
        store32(page + CRC_AT, 0);
        store32(page + CRC_AT, checksum(page, size));
        if (fseeko(file, at, SEEK_SET) != 0 || fwrite(page, 1, size, file) != size) {
            return -1;
        }
        at += (off_t)size;
    }
}
