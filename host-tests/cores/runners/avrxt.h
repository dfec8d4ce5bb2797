/* SPDX-License-Identifier: MIT OR Apache-2.0
 *
 * What an instruction costs on an AVRxt core, the present 8-bit generation: Microchip DS40002198, "AVR Instruction Set Manual",
 * table "Instruction Set Summary", column AVRxt, program counter of 16 bits, data in internal RAM. The instructions themselves are
 * those of AVRe+, so libsimavr executes them, and only the cycles are counted anew.
 *
 * Compared with the manual's pages: LD, LDD, ST, STD, RCALL, SBI, CBI. The others are from memory.
 *
 * An instruction that is not in the table is an error, never a guess. SPM and the instructions that AVRxt lacks (DES, LAC, LAS, LAT, XCH)
 * are not in it.
 */
#ifndef TALLYVOLT_AVRXT_H
#define TALLYVOLT_AVRXT_H

#include <stdint.h>

/* What a kind of instruction costs beside its base. */
enum avrxt_more {
    AVRXT_FIXED,
    AVRXT_BRANCH, /* one more when it is taken */
    AVRXT_SKIP    /* one more for each word that is skipped */
};

struct avrxt_kind {
    uint16_t mask, value;
    uint8_t cycles;
    enum avrxt_more more;
    const char *name;
};

static const struct avrxt_kind avrxt_kinds[] = {
    { 0xffff, 0x0000, 1, AVRXT_FIXED, "nop" },
    { 0xff00, 0x0100, 1, AVRXT_FIXED, "movw" },
    { 0xff00, 0x0200, 2, AVRXT_FIXED, "muls" },
    { 0xff00, 0x0300, 2, AVRXT_FIXED, "mulsu, fmul, fmuls, fmulsu" },
    { 0xfc00, 0x0400, 1, AVRXT_FIXED, "cpc" },
    { 0xfc00, 0x0800, 1, AVRXT_FIXED, "sbc" },
    { 0xfc00, 0x0c00, 1, AVRXT_FIXED, "add, lsl" },
    { 0xfc00, 0x1000, 1, AVRXT_SKIP, "cpse" },
    { 0xfc00, 0x1400, 1, AVRXT_FIXED, "cp" },
    { 0xfc00, 0x1800, 1, AVRXT_FIXED, "sub" },
    { 0xfc00, 0x1c00, 1, AVRXT_FIXED, "adc, rol" },
    { 0xfc00, 0x2000, 1, AVRXT_FIXED, "and, tst" },
    { 0xfc00, 0x2400, 1, AVRXT_FIXED, "eor, clr" },
    { 0xfc00, 0x2800, 1, AVRXT_FIXED, "or" },
    { 0xfc00, 0x2c00, 1, AVRXT_FIXED, "mov" },
    { 0xf000, 0x3000, 1, AVRXT_FIXED, "cpi" },
    { 0xf000, 0x4000, 1, AVRXT_FIXED, "sbci" },
    { 0xf000, 0x5000, 1, AVRXT_FIXED, "subi" },
    { 0xf000, 0x6000, 1, AVRXT_FIXED, "ori" },
    { 0xf000, 0x7000, 1, AVRXT_FIXED, "andi" },
    { 0xd200, 0x8000, 2, AVRXT_FIXED, "ld, ldd: Y, Z" },
    { 0xd200, 0x8200, 1, AVRXT_FIXED, "st, std: Y, Z" },
    { 0xfe0f, 0x9000, 3, AVRXT_FIXED, "lds" },
    { 0xfe0f, 0x9001, 2, AVRXT_FIXED, "ld Z+" },
    { 0xfe0f, 0x9002, 2, AVRXT_FIXED, "ld -Z" },
    { 0xfe0f, 0x9004, 3, AVRXT_FIXED, "lpm Z" },
    { 0xfe0f, 0x9005, 3, AVRXT_FIXED, "lpm Z+" },
    { 0xfe0f, 0x9009, 2, AVRXT_FIXED, "ld Y+" },
    { 0xfe0f, 0x900a, 2, AVRXT_FIXED, "ld -Y" },
    { 0xfe0f, 0x900c, 2, AVRXT_FIXED, "ld X" },
    { 0xfe0f, 0x900d, 2, AVRXT_FIXED, "ld X+" },
    { 0xfe0f, 0x900e, 2, AVRXT_FIXED, "ld -X" },
    { 0xfe0f, 0x900f, 2, AVRXT_FIXED, "pop" },
    { 0xfe0f, 0x9200, 2, AVRXT_FIXED, "sts" },
    { 0xfe0f, 0x9201, 1, AVRXT_FIXED, "st Z+" },
    { 0xfe0f, 0x9202, 1, AVRXT_FIXED, "st -Z" },
    { 0xfe0f, 0x9209, 1, AVRXT_FIXED, "st Y+" },
    { 0xfe0f, 0x920a, 1, AVRXT_FIXED, "st -Y" },
    { 0xfe0f, 0x920c, 1, AVRXT_FIXED, "st X" },
    { 0xfe0f, 0x920d, 1, AVRXT_FIXED, "st X+" },
    { 0xfe0f, 0x920e, 1, AVRXT_FIXED, "st -X" },
    { 0xfe0f, 0x920f, 1, AVRXT_FIXED, "push" },
    { 0xfe0f, 0x9400, 1, AVRXT_FIXED, "com" },
    { 0xfe0f, 0x9401, 1, AVRXT_FIXED, "neg" },
    { 0xfe0f, 0x9402, 1, AVRXT_FIXED, "swap" },
    { 0xfe0f, 0x9403, 1, AVRXT_FIXED, "inc" },
    { 0xfe0f, 0x9405, 1, AVRXT_FIXED, "asr" },
    { 0xfe0f, 0x9406, 1, AVRXT_FIXED, "lsr" },
    { 0xfe0f, 0x9407, 1, AVRXT_FIXED, "ror" },
    { 0xfe0f, 0x940a, 1, AVRXT_FIXED, "dec" },
    { 0xff0f, 0x9408, 1, AVRXT_FIXED, "bset, bclr" },
    { 0xffff, 0x9409, 2, AVRXT_FIXED, "ijmp" },
    { 0xffff, 0x9508, 4, AVRXT_FIXED, "ret" },
    { 0xffff, 0x9509, 2, AVRXT_FIXED, "icall" },
    { 0xffff, 0x95a8, 1, AVRXT_FIXED, "wdr" },
    { 0xffff, 0x95c8, 3, AVRXT_FIXED, "lpm r0" },
    { 0xfe0e, 0x940c, 3, AVRXT_FIXED, "jmp" },
    { 0xfe0e, 0x940e, 3, AVRXT_FIXED, "call" },
    { 0xff00, 0x9600, 2, AVRXT_FIXED, "adiw" },
    { 0xff00, 0x9700, 2, AVRXT_FIXED, "sbiw" },
    { 0xff00, 0x9800, 1, AVRXT_FIXED, "cbi" },
    { 0xff00, 0x9900, 1, AVRXT_SKIP, "sbic" },
    { 0xff00, 0x9a00, 1, AVRXT_FIXED, "sbi" },
    { 0xff00, 0x9b00, 1, AVRXT_SKIP, "sbis" },
    { 0xfc00, 0x9c00, 2, AVRXT_FIXED, "mul" },
    { 0xf800, 0xb000, 1, AVRXT_FIXED, "in" },
    { 0xf800, 0xb800, 1, AVRXT_FIXED, "out" },
    { 0xf000, 0xc000, 2, AVRXT_FIXED, "rjmp" },
    { 0xf000, 0xd000, 2, AVRXT_FIXED, "rcall" },
    { 0xf000, 0xe000, 1, AVRXT_FIXED, "ldi" },
    { 0xfc00, 0xf000, 1, AVRXT_BRANCH, "brbs" },
    { 0xfc00, 0xf400, 1, AVRXT_BRANCH, "brbc" },
    { 0xfe08, 0xf800, 1, AVRXT_FIXED, "bld" },
    { 0xfe08, 0xfa00, 1, AVRXT_FIXED, "bst" },
    { 0xfe08, 0xfc00, 1, AVRXT_SKIP, "sbrc" },
    { 0xfe08, 0xfe00, 1, AVRXT_SKIP, "sbrs" },
};

enum { AVRXT_KINDS = sizeof avrxt_kinds / sizeof *avrxt_kinds };

/* Kinds that were charged so far: the self-test asks for all of them. */
static uint8_t avrxt_charged[AVRXT_KINDS];

static inline unsigned avrxt_kinds_charged(void)
{
    unsigned charged = 0;
    for (int kind = 0; kind < AVRXT_KINDS; kind++)
        charged += avrxt_charged[kind];
    return charged;
}

/* Cycles of the instruction at byte address `from`, after which the core stands at `to`; -1 for one that is not known. Addresses of a
 * skip are at most three words apart; a branch that jumps to the next instruction is one that is taken, and told by no address, so
 * it costs one less here than on the chip: compilers do not write it. */
static inline int avrxt_cycles(uint16_t opcode, uint32_t from, uint32_t to)
{
    for (int kind = 0; kind < AVRXT_KINDS; kind++) {
        const struct avrxt_kind *known = &avrxt_kinds[kind];
        if ((opcode & known->mask) != known->value)
            continue;
        avrxt_charged[kind] = 1;
        switch (known->more) {
        case AVRXT_BRANCH:
            return known->cycles + (to != from + 2);
        case AVRXT_SKIP:
            return known->cycles + (int)(to - from - 2) / 2;
        case AVRXT_FIXED:
            return known->cycles;
        }
    }
    return -1;
}

#endif
