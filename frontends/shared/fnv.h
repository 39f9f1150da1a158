/* The FNV-1a hash, 64 bits (Fowler, Noll and Vo; from memory): tells one text or file from another, no more than that. */
#ifndef HY_FNV_H
#define HY_FNV_H

#include <stddef.h>
#include <stdint.h>

#define HY_FNV_START UINT64_C(0xcbf29ce484222325)

/* The hash of what `hash` stands for and n bytes behind it. */
static inline uint64_t hy_fnv(uint64_t hash, const void *bytes, size_t n)
{
    for (const unsigned char *b = bytes, *end = b + n; b < end; b++) {
        hash = (hash ^ *b) * UINT64_C(0x100000001b3);
    }
    return hash;
}

#endif
