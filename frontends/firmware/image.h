/* Firmware as a compiler leaves it: what an ELF file puts into flash and EEPROM. */
#ifndef HY_IMAGE_H
#define HY_IMAGE_H

#include <stddef.h>
#include <stdint.h>

#include "diag.h"

typedef struct hy_memory {
    uint8_t *bytes; /* owned; where nothing was loaded: 0xff */
    size_t size;    /* from address 0 to the last byte loaded */
} hy_memory;

typedef struct hy_image {
    hy_memory flash, eeprom;
} hy_image;

/* Reads an AVR executable (ELF32, little-endian). Everything in it is checked before it is used. 0, or -1 with the
 * diagnosis; hy_image_free is due after 0. */
int hy_image_read(hy_image *image, const char *path, hy_diag *diag);
void hy_image_free(hy_image *image);

#endif
