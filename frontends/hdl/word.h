/* What crosses the border between a simulator and the model in one clock: a word of 64 bits.
 *
 *   63        32 31  29 28     23 22 21 20  16 15     10  9   8   7 6  5  0
 *  +------------+------+---------+-----+------+---------+---+---+-----+----+
 *  |   audio    |  0   | unknown |level| slot | phoneme | r | s |  i  | p  |
 *  +------------+------+---------+-----+------+---------+---+---+-----+----+
 *
 * p, i, s: code, inflection and strobe pins as they stand at a rising edge of the clock. r, phoneme, slot, level, audio:
 * what the design shows since the edge before. unknown: a bit for each field in which a simulator of four states
 * found x or z. verilog/hyoid_lockstep.sv packs the same word. */
#ifndef HY_HDL_WORD_H
#define HY_HDL_WORD_H

#include <stdint.h>

/* What is compared; also the order of the `unknown` bits and the bits of hyoid_lockstep_open's `checks`. */
typedef enum hy_field {
    HY_REQUEST,
    HY_PHONEME_CODE,
    HY_SLOT,
    HY_LEVEL,
    HY_AUDIO,
    HY_FIELDS,
    HY_INPUTS = HY_FIELDS
} hy_field;

#define HY_PINS_MASK UINT64_C(0x1ff)
#define HY_UNKNOWN(field) (UINT64_C(1) << (23 + (field)))

static inline unsigned hy_word_code(uint64_t word)
{
    return (unsigned)(word & 63);
}

static inline unsigned hy_word_inflection(uint64_t word)
{
    return (unsigned)(word >> 6 & 3);
}

static inline unsigned hy_word_strobe(uint64_t word)
{
    return (unsigned)(word >> 8 & 1);
}

static inline int32_t hy_word_field(uint64_t word, hy_field field)
{
    switch (field) {
    case HY_REQUEST:
        return (int32_t)(word >> 9 & 1);
    case HY_PHONEME_CODE:
        return (int32_t)(word >> 10 & 63);
    case HY_SLOT:
        return (int32_t)(word >> 16 & 31);
    case HY_LEVEL:
        return (int32_t)(word >> 21 & 3);
    default:
        return (int32_t)(uint32_t)(word >> 32);
    }
}

/* The bits of a word that tell of a field, with its `unknown` one. */
static inline uint64_t hy_word_mask(hy_field field)
{
    static const uint64_t bits[HY_FIELDS] = {UINT64_C(1) << 9, UINT64_C(63) << 10, UINT64_C(31) << 16,
                                             UINT64_C(3) << 21, UINT64_C(0xffffffff) << 32};
    return bits[field] | HY_UNKNOWN(field);
}

static inline uint64_t hy_word_outputs(unsigned request, unsigned phoneme, unsigned slot, unsigned level,
                                       int32_t audio)
{
    return (uint64_t)request << 9 | (uint64_t)phoneme << 10 | (uint64_t)slot << 16 | (uint64_t)level << 21 |
           (uint64_t)(uint32_t)audio << 32;
}

#endif
