/* SPDX-License-Identifier: MIT OR Apache-2.0
 *
 * Reading a 32-bit little-endian ELF file: its loadable segments and its symbols.
 * Shared by the runners; no dependency but the C library.
 */
#ifndef TALLYVOLT_ELF_IMAGE_H
#define TALLYVOLT_ELF_IMAGE_H

#include <elf.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct elf_image {
    uint8_t *bytes;
    size_t length;
};

/* Takes one loadable segment: run-time address, load address, bytes, size in the file, size in memory.
 * Returns 0, or -1 when the segment does not fit the chip. */
typedef int (*elf_segment_sink)(void *context, uint32_t run_address, uint32_t load_address,
                                const uint8_t *bytes, uint32_t file_size, uint32_t memory_size);

/* Whether `count` items of `size` bytes at `offset` lie inside the file. */
static inline int elf_holds(const struct elf_image *image, uint64_t offset, uint64_t count, uint64_t size)
{
    return offset + count * size <= image->length;
}

static inline const Elf32_Ehdr *elf_header(const struct elf_image *image)
{
    return (const Elf32_Ehdr *)image->bytes;
}

/* Reads a file. Returns NULL, or what is wrong with it. */
static inline const char *elf_read(struct elf_image *image, const char *path)
{
    FILE *file = fopen(path, "rb");
    if (!file)
        return "cannot open the image";
    if (fseek(file, 0, SEEK_END) != 0 || ftell(file) <= 0) {
        fclose(file);
        return "the image is empty";
    }
    image->length = (size_t)ftell(file);
    image->bytes = malloc(image->length);
    rewind(file);
    size_t got = image->bytes ? fread(image->bytes, 1, image->length, file) : 0;
    fclose(file);
    if (got != image->length)
        return "cannot read the image";
    const Elf32_Ehdr *header = elf_header(image);
    if (image->length < sizeof *header || memcmp(header->e_ident, ELFMAG, SELFMAG) != 0)
        return "the image is not an ELF file";
    if (header->e_ident[EI_CLASS] != ELFCLASS32 || header->e_ident[EI_DATA] != ELFDATA2LSB)
        return "the image is not 32-bit little-endian ELF";
    if (!elf_holds(image, header->e_phoff, header->e_phnum, sizeof(Elf32_Phdr)) ||
        !elf_holds(image, header->e_shoff, header->e_shnum, sizeof(Elf32_Shdr)))
        return "the image is cut short";
    return NULL;
}

/* Gives every loadable segment to `sink`. Returns 0, or -1 when one does not fit. */
static inline int elf_load(const struct elf_image *image, elf_segment_sink sink, void *context)
{
    const Elf32_Ehdr *header = elf_header(image);
    const Elf32_Phdr *segments = (const Elf32_Phdr *)(image->bytes + header->e_phoff);
    for (int i = 0; i < header->e_phnum; i++) {
        const Elf32_Phdr *segment = &segments[i];
        if (segment->p_type != PT_LOAD || segment->p_memsz == 0)
            continue;
        if (!elf_holds(image, segment->p_offset, segment->p_filesz, 1))
            return -1;
        if (sink(context, segment->p_vaddr, segment->p_paddr, image->bytes + segment->p_offset,
                 segment->p_filesz, segment->p_memsz) != 0)
            return -1;
    }
    return 0;
}

/* Looks a defined symbol up by name. Returns 0 and its value, or -1. */
static inline int elf_symbol(const struct elf_image *image, const char *name, uint32_t *value)
{
    const Elf32_Ehdr *header = elf_header(image);
    const Elf32_Shdr *sections = (const Elf32_Shdr *)(image->bytes + header->e_shoff);
    for (int i = 0; i < header->e_shnum; i++) {
        const Elf32_Shdr *table = &sections[i];
        if (table->sh_type != SHT_SYMTAB || table->sh_link >= header->e_shnum)
            continue;
        const Elf32_Shdr *strings = &sections[table->sh_link];
        if (!elf_holds(image, table->sh_offset, table->sh_size, 1) ||
            !elf_holds(image, strings->sh_offset, strings->sh_size, 1))
            return -1;
        const Elf32_Sym *symbols = (const Elf32_Sym *)(image->bytes + table->sh_offset);
        const char *names = (const char *)(image->bytes + strings->sh_offset);
        size_t wanted = strlen(name) + 1;
        for (uint32_t s = 0; s < table->sh_size / sizeof *symbols; s++) {
            if (symbols[s].st_shndx == SHN_UNDEF || symbols[s].st_name + wanted > strings->sh_size)
                continue;
            if (memcmp(names + symbols[s].st_name, name, wanted) == 0) {
                *value = symbols[s].st_value;
                return 0;
            }
        }
    }
    return -1;
}

#endif
