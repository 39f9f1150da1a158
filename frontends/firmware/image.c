#include "image.h"

#include <elf.h>
#include <errno.h>
#include <fcntl.h>
#include <libelf.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

/* avr-gcc's one address space for several memories: flash at 0, RAM at 0x800000, EEPROM at 0x810000, fuses and more above. */
enum { FILE_MAX = 64 << 20, FLASH_MAX = 8 << 20, RAM_AT = 0x800000, EEPROM_AT = 0x810000, EEPROM_END = 0x820000 };

static int refuse(hy_diag *diag, const char *path, const char *what)
{
    return hy_fail(diag, "%s: %s; an AVR executable (ELF, as avr-gcc writes it) would be right", path, what);
}

static int place(hy_memory *memory, size_t address, const char *bytes, size_t size, hy_diag *diag)
{
    if (address + size > memory->size) {
        uint8_t *more = realloc(memory->bytes, address + size);
        if (more == NULL) {
            return hy_fail(diag, "not enough memory for the firmware");
        }
        memset(more + memory->size, 0xff, address + size - memory->size);
        memory->bytes = more;
        memory->size = address + size;
    }
    memcpy(memory->bytes + address, bytes, size);
    return 0;
}

static int load_segment(hy_image *image, const char *path, const Elf32_Phdr *segment, const char *file,
                        size_t file_size, hy_diag *diag)
{
    uint64_t offset = segment->p_offset, size = segment->p_filesz, address = segment->p_paddr;
    if (segment->p_type != PT_LOAD || size == 0) {
        return 0;
    }
    if (offset > file_size || size > file_size - offset) {
        return refuse(diag, path, "a segment goes beyond the end of the file");
    }
    if (address < RAM_AT) {
        if (address + size > FLASH_MAX) {
            return refuse(diag, path, "a segment goes beyond any flash");
        }
        return place(&image->flash, (size_t)address, file + offset, (size_t)size, diag);
    }
    if (address >= EEPROM_AT && address < EEPROM_END) {
        if (address + size > EEPROM_END) {
            return refuse(diag, path, "a segment goes beyond any EEPROM");
        }
        return place(&image->eeprom, (size_t)(address - EEPROM_AT), file + offset, (size_t)size, diag);
    }
    return address < EEPROM_AT ? refuse(diag, path, "a segment is to be loaded into RAM")
                               : 0; /* fuses, lock bits: not used */
}

static int load(hy_image *image, const char *path, Elf *elf, const char *file, size_t file_size, hy_diag *diag)
{
    const Elf32_Ehdr *header = elf_kind(elf) == ELF_K_ELF ? elf32_getehdr(elf) : NULL;
    size_t count = 0;
    if (header == NULL || header->e_ident[EI_DATA] != ELFDATA2LSB) {
        return refuse(diag, path, "not a 32-bit little-endian ELF file");
    }
    if (header->e_machine != EM_AVR) {
        return refuse(diag, path, "an ELF file for another machine");
    }
    if (header->e_type != ET_EXEC) {
        return refuse(diag, path, "an ELF file that was not linked");
    }
    const Elf32_Phdr *segment = elf_getphdrnum(elf, &count) == 0 && count > 0 ? elf32_getphdr(elf) : NULL;
    if (segment == NULL) {
        return refuse(diag, path, "an ELF file without segments, or cut short");
    }
    for (size_t i = 0; i < count; i++) {
        if (load_segment(image, path, &segment[i], file, file_size, diag) != 0) {
            return -1;
        }
    }
    return image->flash.size > 0 ? 0 : refuse(diag, path, "an ELF file with nothing for the flash");
}

/* The whole file. malloc'd, or null. */
static char *read_file(const char *path, size_t *size, hy_diag *diag)
{
    int descriptor = open(path, O_RDONLY | O_NONBLOCK | O_CLOEXEC); /* a pipe by that name must not hang us */
    struct stat status;
    char *bytes = NULL;
    if (descriptor < 0 || fstat(descriptor, &status) != 0) {
        hy_fail(diag, "%s: %s", path, strerror(errno));
    } else if (!S_ISREG(status.st_mode)) {
        refuse(diag, path, "not a regular file");
    } else if (status.st_size < (off_t)sizeof(Elf32_Ehdr)) {
        refuse(diag, path, "too short for an ELF file");
    } else if (status.st_size > FILE_MAX) {
        refuse(diag, path, "larger than 64 MiB");
    } else if ((bytes = malloc((size_t)status.st_size)) == NULL) {
        hy_fail(diag, "not enough memory for %s", path);
    } else {
        ssize_t got;
        *size = 0;
        while (*size < (size_t)status.st_size &&
               (got = read(descriptor, bytes + *size, (size_t)status.st_size - *size)) > 0) {
            *size += (size_t)got;
        }
        if (*size != (size_t)status.st_size) {
            hy_fail(diag, "%s: cannot be read to its end", path);
            free(bytes);
            bytes = NULL;
        }
    }
    if (descriptor >= 0) {
        close(descriptor);
    }
    return bytes;
}

int hy_image_read(hy_image *image, const char *path, hy_diag *diag)
{
    memset(image, 0, sizeof *image);
    size_t size;
    char *bytes = read_file(path, &size, diag);
    if (bytes == NULL) {
        return -1;
    }
    Elf *elf = elf_version(EV_CURRENT) != EV_NONE ? elf_memory(bytes, size) : NULL;
    int result = elf != NULL ? load(image, path, elf, bytes, size, diag) : refuse(diag, path, "not an ELF file");
    elf_end(elf);
    free(bytes);
    if (result != 0) {
        hy_image_free(image);
    }
    return result;
}

void hy_image_free(hy_image *image)
{
    free(image->flash.bytes);
    free(image->eeprom.bytes);
    memset(image, 0, sizeof *image);
}
