/* SPDX-License-Identifier: MIT OR Apache-2.0
 *
 * unicorn_run: calls functions of a Cortex-M0+ (ARMv6-M), RV32IMC or RV32E image on Unicorn.
 *
 *   unicorn_run IMAGE.elf        then requests on standard input; protocol in request.h
 *
 * The core is taken from the ELF header. Cortex-M0+: Unicorn executes, and each executed instruction is charged what
 * Arm's Cortex-M0+ Technical Reference Manual (DDI 0484C, table 3.1 "Cortex-M0+ instruction summary") says for a system
 * with zero wait states and the single-cycle multiplier: a chip with flash wait states or the 32-cycle multiplier is
 * slower. RISC-V: executed instructions are counted, since no single core's timing stands for all of them; hardware
 * divisions are counted besides. A called function must keep the call-saved registers and balance the stack: a call
 * that does not is an error, not a row.
 *
 * Images are linked for flash at 0 and RAM at 0x20000000 (see the linker scripts).
 *
 * Build: cc -O2 -o unicorn_run unicorn_run.c -lunicorn     (Debian: libunicorn-dev)
 * Unicorn is GPL-2: this program is a separate process for measuring, never part of a firmware or of the library.
 */
#include "request.h"

#include <unicorn/unicorn.h>

enum { FLASH_SIZE = 0x100000, RAM_BASE = 0x20000000, RAM_SIZE = 0x10000 };
/* Where a called function returns to: near the end of flash, which no image uses. The one instruction there jumps to the
 * next call, so that a whole sweep is one run of the emulator, which translates the code only once. */
enum { DRIVER = FLASH_SIZE - 0x100, AMOUNT_MAX = 1000000 };

/* What differs between the cores. */
struct core_kind {
    const char *ready;
    uc_arch arch;
    uc_mode mode;
    int model;
    int thumb; /* 1: code addresses carry the Thumb bit */
    uint32_t driver; /* the jump to entry_register */
    int entry_register, stack_register, link_register, argument_register[4];
    int saved_registers;
    int saved_register[12];
};

static const struct core_kind CORTEX_M0PLUS = {
    "ready cycles cortex-m0plus", UC_ARCH_ARM, UC_MODE_THUMB | UC_MODE_MCLASS, UC_CPU_ARM_CORTEX_M0, 1,
    0x4760 /* bx r12 */, UC_ARM_REG_R12, UC_ARM_REG_SP, UC_ARM_REG_LR,
    { UC_ARM_REG_R0, UC_ARM_REG_R1, UC_ARM_REG_R2, UC_ARM_REG_R3 },
    8, { UC_ARM_REG_R4, UC_ARM_REG_R5, UC_ARM_REG_R6, UC_ARM_REG_R7,
         UC_ARM_REG_R8, UC_ARM_REG_R9, UC_ARM_REG_R10, UC_ARM_REG_R11 },
};

static const struct core_kind RV32IMC = {
    "ready instructions rv32imc", UC_ARCH_RISCV, UC_MODE_RISCV32, UC_CPU_RISCV32_ANY, 0,
    0x00028067 /* jr t0 */, UC_RISCV_REG_T0, UC_RISCV_REG_SP, UC_RISCV_REG_RA,
    { UC_RISCV_REG_A0, UC_RISCV_REG_A1, UC_RISCV_REG_A2, UC_RISCV_REG_A3 },
    12, { UC_RISCV_REG_S0, UC_RISCV_REG_S1, UC_RISCV_REG_S2, UC_RISCV_REG_S3, UC_RISCV_REG_S4, UC_RISCV_REG_S5,
          UC_RISCV_REG_S6, UC_RISCV_REG_S7, UC_RISCV_REG_S8, UC_RISCV_REG_S9, UC_RISCV_REG_S10, UC_RISCV_REG_S11 },
};

/* The same instructions with registers x0 to x15: two of the saved ones. Unicorn runs them as RV32. */
static const struct core_kind RV32E = {
    "ready instructions rv32e", UC_ARCH_RISCV, UC_MODE_RISCV32, UC_CPU_RISCV32_ANY, 0,
    0x00028067 /* jr t0 */, UC_RISCV_REG_T0, UC_RISCV_REG_SP, UC_RISCV_REG_RA,
    { UC_RISCV_REG_A0, UC_RISCV_REG_A1, UC_RISCV_REG_A2, UC_RISCV_REG_A3 },
    2, { UC_RISCV_REG_S0, UC_RISCV_REG_S1 },
};

struct core {
    const struct core_kind *kind;
    const struct elf_image *image;
    uc_engine *uc;
    uint8_t flash[FLASH_SIZE], ram[RAM_SIZE];
    struct sweep sweep;
    int started; /* a call of the sweep is under way */
    uint64_t amount;
    uint32_t divisions, lowest_stack;
    uint32_t fall_through; /* address after a conditional branch that was just executed, else 0 */
    const char *error;
};

static uint32_t halfword(const struct core *core, uint32_t address)
{
    if (address + 2 > FLASH_SIZE)
        return 0;
    return (uint32_t)(core->flash[address] | core->flash[address + 1] << 8);
}

/* Cycles of one Thumb instruction that is not a taken conditional branch (one more then); 0 where the table gives none
 * or no kernel may use it (BKPT, SVC, UDF, WFI and the like). */
static unsigned m0plus_cycles(uint32_t first, uint32_t second)
{
    unsigned registers = (unsigned)__builtin_popcount(first & 0xff);
    switch (first >> 12) {
    case 0x0: case 0x1: case 0x2: case 0x3: /* shift, add, subtract, move, compare */
        return 1;
    case 0x4:
        if (first < 0x4400) /* data processing, MULS among them */
            return 1;
        if (first < 0x4700) { /* ADD, CMP, MOV with any register; 2 when ADD or MOV writes PC */
            int to_pc = (first & 0x87) == 0x87 && (first & 0xff00) != 0x4500;
            return to_pc ? 2 : 1;
        }
        return 2; /* BX, BLX below 0x4800; LDR from PC above */
    case 0x5: case 0x6: case 0x7: case 0x8: case 0x9: /* load, store: word, halfword, byte */
        return 2;
    case 0xA: /* form address from PC or SP */
        return 1;
    case 0xB:
        switch (first >> 8 & 0xf) {
        case 0x0: case 0x2: case 0x6: case 0xA: /* SP +- immediate; extend; CPS; reverse */
            return 1;
        case 0x4: return 1 + registers; /* PUSH */
        case 0x5: return 1 + registers + 1; /* PUSH with LR */
        case 0xC: return 1 + registers; /* POP */
        case 0xD: return 3 + registers + 1; /* POP with PC, which counts as one of the N registers */
        case 0xF: return first == 0xBF00 ? 1 : 0; /* NOP */
        default: return 0;
        }
    case 0xC: /* LDM, STM */
        return 1 + registers;
    case 0xD: /* conditional branch, not taken */
        return first < 0xDE00 ? 1 : 0;
    case 0xE: /* branch */
        return first < 0xE800 ? 2 : 0;
    default:
        if ((first & 0xF800) == 0xF000 && (second & 0xD000) == 0xD000) /* BL */
            return 3;
        if ((first & 0xFFE0) == 0xF380 || (first & 0xFFF0) == 0xF3B0 || (first & 0xFFE0) == 0xF3E0)
            return 3; /* MSR, barriers, MRS */
        return 0;
    }
}

static void charge_m0plus(struct core *core, uint32_t address)
{
    uint32_t first = halfword(core, address);
    unsigned cycles = m0plus_cycles(first, halfword(core, address + 2));
    if (cycles == 0)
        core->error = "an instruction without a published cycle count";
    core->amount += cycles;
    core->fall_through = first >> 12 == 0xD ? address + 2 : 0;
}

static void count_rv32(struct core *core, uint32_t address, uint32_t size)
{
    core->amount++;
    uint32_t word = halfword(core, address) | halfword(core, address + 2) << 16;
    int divides = size == 4 && (word & 0xFE00007F) == 0x02000033 && (word >> 12 & 4) != 0;
    core->divisions += (uint32_t)divides;
}

/* Both conventions in use: words in four registers, a 64-bit argument in a pair that starts at an even register (AAPCS;
 * the RISC-V integer convention does not align, so 64-bit arguments are not accepted there). */
static const char *place_arguments(struct core *core)
{
    const struct call_request *request = &core->sweep.request;
    int reg = 0;
    for (int i = 0; i < request->arguments; i++) {
        const struct argument *argument = &request->argument[i];
        if (argument->size == 8 && core->kind != &CORTEX_M0PLUS)
            return "64-bit arguments are not supported on this core";
        reg += argument->size == 8 && reg % 2 != 0;
        int words = argument->size == 8 ? 2 : 1;
        if (reg + words > 4)
            return "arguments do not fit the registers";
        for (int w = 0; w < words; w++) {
            uint32_t word = (uint32_t)(argument->value >> (32 * w));
            if (argument->size < 4) /* as callers extend it; a sweep beyond the type wraps, as it does on AVR */
                word &= (1u << (8 * argument->size)) - 1;
            uc_reg_write(core->uc, core->kind->argument_register[reg++], &word);
        }
    }
    return NULL;
}

static const uint32_t STACK_TOP = RAM_BASE + RAM_SIZE - 16;

static uint32_t saved_pattern(int i)
{
    return 0xA5A50000u + (uint32_t)i;
}

/* Sets the registers for the next call; the driver's jump then makes it. */
static const char *begin_call(struct core *core)
{
    const struct core_kind *kind = core->kind;
    core->amount = 0;
    core->divisions = core->fall_through = 0;
    core->lowest_stack = STACK_TOP;
    core->started = 1;
    uint32_t link = DRIVER | (uint32_t)kind->thumb, entry = core->sweep.request.address | (uint32_t)kind->thumb;
    uc_reg_write(core->uc, kind->stack_register, &STACK_TOP);
    uc_reg_write(core->uc, kind->link_register, &link);
    uc_reg_write(core->uc, kind->entry_register, &entry);
    for (int i = 0; i < kind->saved_registers; i++) {
        uint32_t pattern = saved_pattern(i);
        uc_reg_write(core->uc, kind->saved_register[i], &pattern);
    }
    return place_arguments(core);
}

static const char *finish_call(const struct core *core, struct call_outcome *outcome)
{
    const struct core_kind *kind = core->kind;
    uint32_t stack, saved, word[2];
    uc_reg_read(core->uc, kind->stack_register, &stack);
    if (stack != STACK_TOP)
        return "the function left the stack unbalanced";
    for (int i = 0; i < kind->saved_registers; i++) {
        uc_reg_read(core->uc, kind->saved_register[i], &saved);
        if (saved != saved_pattern(i))
            return "the function changed a call-saved register";
    }
    uc_reg_read(core->uc, kind->argument_register[0], &word[0]);
    uc_reg_read(core->uc, kind->argument_register[1], &word[1]);
    uint64_t pair = (uint64_t)word[1] << 32 | word[0];
    int size = core->sweep.request.result_size;
    outcome->result = size == 8 ? pair : pair & ((UINT64_C(1) << (8 * size)) - 1);
    outcome->amount = core->amount;
    outcome->stack = STACK_TOP - core->lowest_stack;
    outcome->divisions = core->divisions;
    return NULL;
}

/* At the driver: report the call that came back, and prepare the next one. Returns 1 when there is a next one. */
static int drive(struct core *core)
{
    if (core->started) {
        struct call_outcome outcome;
        core->error = finish_call(core, &outcome);
        if (core->error || !sweep_row(&core->sweep, &outcome))
            return 0;
    }
    core->error = begin_call(core);
    return core->error == NULL;
}

static void on_instruction(uc_engine *uc, uint64_t address, uint32_t size, void *context)
{
    struct core *core = context;
    if (core->fall_through != 0 && address != core->fall_through)
        core->amount++; /* the conditional branch before was taken */
    core->fall_through = 0;
    uint32_t stack;
    uc_reg_read(uc, core->kind->stack_register, &stack);
    core->lowest_stack = stack < core->lowest_stack ? stack : core->lowest_stack;
    if (address == DRIVER) {
        if (!drive(core))
            uc_emu_stop(uc);
        return;
    }
    if (core->kind != &CORTEX_M0PLUS)
        count_rv32(core, (uint32_t)address, size);
    else
        charge_m0plus(core, (uint32_t)address);
    if (core->amount > AMOUNT_MAX)
        core->error = "the function did not return";
    if (core->error)
        uc_emu_stop(uc);
}

static void run_calls(struct core *core, char *words)
{
    const char *error = request_parse_call(&core->sweep, core->image, words);
    if (error) {
        printf("error %s\n", error);
        return;
    }
    core->sweep.request.address &= ~(uint32_t)core->kind->thumb;
    core->started = 0;
    core->error = NULL;
    core->fall_through = 0;
    uc_err status = uc_emu_start(core->uc, DRIVER | (uint32_t)core->kind->thumb, FLASH_SIZE, 0, 0);
    error = core->error ? core->error : status != UC_ERR_OK ? uc_strerror(status) : NULL;
    sweep_end(&core->sweep, error);
}

/* Where `size` bytes at a run-time address lie in the host's memory; NULL outside the chip. */
static uint8_t *host_bytes(struct core *core, uint32_t address, uint32_t size)
{
    if (address >= RAM_BASE && size <= RAM_SIZE && address - RAM_BASE <= RAM_SIZE - size)
        return core->ram + (address - RAM_BASE);
    if (size <= DRIVER && address <= DRIVER - size)
        return core->flash + address;
    return NULL;
}

/* Segments go straight to their run-time address: functions are called without start-up code. */
static int load_segment(void *context, uint32_t run, uint32_t load, const uint8_t *bytes, uint32_t file_size,
                        uint32_t memory_size)
{
    (void)load;
    uint8_t *place = host_bytes(context, run, memory_size);
    if (!place)
        return -1;
    memset(place, 0, memory_size);
    memcpy(place, bytes, file_size);
    return 0;
}

static const char *start_core(struct core *core)
{
    switch (elf_header(core->image)->e_machine) {
    case EM_ARM: core->kind = &CORTEX_M0PLUS; break;
    case EM_RISCV: core->kind = elf_header(core->image)->e_flags & EF_RISCV_RVE ? &RV32E : &RV32IMC; break;
    default: return "the image is for neither Arm nor RISC-V";
    }
    for (int b = 0; b < 4; b++)
        core->flash[DRIVER + b] = (uint8_t)(core->kind->driver >> (8 * b));
    uc_hook hook;
    if (uc_open(core->kind->arch, core->kind->mode, &core->uc) != UC_ERR_OK ||
        uc_ctl_set_cpu_model(core->uc, core->kind->model) != UC_ERR_OK ||
        uc_mem_map_ptr(core->uc, 0, FLASH_SIZE, UC_PROT_READ | UC_PROT_EXEC, core->flash) != UC_ERR_OK ||
        uc_mem_map_ptr(core->uc, RAM_BASE, RAM_SIZE, UC_PROT_READ | UC_PROT_WRITE, core->ram) != UC_ERR_OK ||
        uc_hook_add(core->uc, &hook, UC_HOOK_CODE, (void *)on_instruction, core, 1, 0) != UC_ERR_OK)
        return "Unicorn refuses the core";
    return elf_load(core->image, load_segment, core) == 0 ? NULL : "the image does not fit flash at 0 and RAM at 0x20000000";
}

int main(int argc, char **argv)
{
    static struct core core;
    struct elf_image image;
    const char *error = argc == 2 ? elf_read(&image, argv[1]) : "usage: unicorn_run IMAGE.elf";
    core.image = &image;
    if (!error)
        error = start_core(&core);
    if (error) {
        printf("error %s\n", error);
        return 2;
    }
    printf("%s\n", core.kind->ready);
    fflush(stdout);
    char line[REQUEST_LINE_MAX];
    while (fgets(line, sizeof line, stdin)) {
        uint32_t address;
        uint8_t bytes[REQUEST_LINE_MAX / 2];
        if (strncmp(line, "call ", 5) == 0) {
            run_calls(&core, line + 5);
        } else if (strncmp(line, "poke ", 5) == 0) {
            int count = request_parse_poke(&image, line + 5, &address, bytes);
            uint8_t *place = count < 0 || address < RAM_BASE ? NULL : host_bytes(&core, address, (uint32_t)count);
            if (place)
                memcpy(place, bytes, (size_t)count);
            printf(place ? "ok\n" : "error poke needs a symbol in RAM and hexadecimal bytes\n");
        } else {
            printf("error unknown request\n");
        }
        fflush(stdout);
    }
    return 0;
}
