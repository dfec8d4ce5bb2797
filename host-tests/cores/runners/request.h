/* SPDX-License-Identifier: MIT OR Apache-2.0
 *
 * The line protocol between the measuring host and a runner, the same for every core.
 *
 *   host     call SYMBOL RETURN [TYPE=VALUE]...     RETURN, TYPE: u8 u16 u32 u64, RETURN also void
 *            VALUE: N, &SYMBOL (its address), or for at most one argument FIRST..LAST or FIRST..LAST/STEP
 *            poke SYMBOL HEXBYTES                   writes run-time constants into the image's RAM
 *   runner   ready AMOUNT CORE                      once, at start; AMOUNT: cycles or instructions
 *            RESULT AMOUNT STACK                    one row per call, in order of the swept argument
 *            end CALLS DIVISIONS                    DIVISIONS: most hardware divisions in one call
 *            ok                                     answer to poke
 *            error TEXT                             instead of the rest; the host must not use the rows before it
 *
 * AMOUNT counts the called function from its first instruction through its return instruction, the call not included.
 * STACK is the deepest stack use in bytes, the return address that the call itself pushes (AVR) included.
 */
#ifndef TALLYVOLT_REQUEST_H
#define TALLYVOLT_REQUEST_H

#include "elf_image.h"

#include <inttypes.h>

enum { REQUEST_ARGUMENTS_MAX = 4, REQUEST_LINE_MAX = 4096 };

struct argument {
    int size; /* bytes: 1, 2, 4, 8 */
    uint64_t value;
};

struct call_request {
    uint32_t address;
    int result_size; /* bytes, 0 for void */
    int arguments;
    struct argument argument[REQUEST_ARGUMENTS_MAX];
    int swept; /* index of the swept argument, -1 for none */
    uint64_t last, step;
};

struct call_outcome {
    uint64_t result, amount;
    uint32_t stack, divisions;
};

/* A request under way: one call, or one for each value of the swept argument. */
struct sweep {
    struct call_request request;
    uint64_t calls;
    uint32_t divisions;
};

static inline int request_type(const char *text, size_t length)
{
    static const struct { const char *name; int size; } types[] = { { "u8", 1 }, { "u16", 2 }, { "u32", 4 }, { "u64", 8 } };
    for (size_t i = 0; i < sizeof types / sizeof *types; i++)
        if (strlen(types[i].name) == length && memcmp(types[i].name, text, length) == 0)
            return types[i].size;
    return -1;
}

static inline const char *request_argument(struct call_request *request, const struct elf_image *image, const char *word)
{
    if (request->arguments == REQUEST_ARGUMENTS_MAX)
        return "too many arguments";
    const char *equals = strchr(word, '=');
    int size = equals ? request_type(word, (size_t)(equals - word)) : -1;
    if (size < 0)
        return "an argument is not TYPE=VALUE";
    struct argument *argument = &request->argument[request->arguments];
    argument->size = size;
    const char *text = equals + 1;
    if (*text == '&') {
        uint32_t address;
        if (elf_symbol(image, text + 1, &address) != 0)
            return "no such symbol behind &";
        argument->value = address; /* an AVR data address loses its 0x800000 where the argument is u16 */
    } else {
        char *rest;
        argument->value = strtoull(text, &rest, 0);
        if (rest == text)
            return "an argument's value is not a number";
        if (strncmp(rest, "..", 2) == 0) {
            if (request->swept >= 0)
                return "two swept arguments";
            request->swept = request->arguments;
            request->last = strtoull(rest + 2, &rest, 0);
            request->step = *rest == '/' ? strtoull(rest + 1, &rest, 0) : 1;
            if (request->step == 0 || request->last < argument->value)
                return "an empty sweep";
        }
        if (*rest != '\0')
            return "text after an argument's value";
    }
    request->arguments++;
    return NULL;
}

/* Parses what follows `call`. `words` is split in place. Returns NULL, or what is wrong with it. */
static inline const char *request_parse_call(struct sweep *sweep, const struct elf_image *image, char *words)
{
    memset(sweep, 0, sizeof *sweep);
    struct call_request *request = &sweep->request;
    request->swept = -1;
    char *symbol = strtok(words, " \n"), *result = strtok(NULL, " \n");
    if (!symbol || !result)
        return "call needs a symbol and a return type";
    if (elf_symbol(image, symbol, &request->address) != 0)
        return "no such symbol";
    request->result_size = strcmp(result, "void") == 0 ? 0 : request_type(result, strlen(result));
    if (request->result_size < 0)
        return "unknown return type";
    for (char *word = strtok(NULL, " \n"); word; word = strtok(NULL, " \n")) {
        const char *error = request_argument(request, image, word);
        if (error)
            return error;
    }
    return NULL;
}

/* Prints a call's row and moves the swept argument on. Returns 1 when another call is due. */
static inline int sweep_row(struct sweep *sweep, const struct call_outcome *outcome)
{
    printf("%" PRIu64 " %" PRIu64 " %" PRIu32 "\n", outcome->result, outcome->amount, outcome->stack);
    sweep->calls++;
    sweep->divisions = outcome->divisions > sweep->divisions ? outcome->divisions : sweep->divisions;
    struct call_request *request = &sweep->request;
    if (request->swept < 0)
        return 0;
    struct argument *swept = &request->argument[request->swept];
    if (request->last - swept->value < request->step)
        return 0;
    swept->value += request->step;
    return 1;
}

/* Prints how a sweep ended: `error` is NULL, or what went wrong. */
static inline void sweep_end(const struct sweep *sweep, const char *error)
{
    if (error)
        printf("error %s, after %" PRIu64 " calls\n", error, sweep->calls);
    else
        printf("end %" PRIu64 " %" PRIu32 "\n", sweep->calls, sweep->divisions);
}

/* Parses what follows `poke` into an address and bytes. Returns the number of bytes, or -1. */
static inline int request_parse_poke(const struct elf_image *image, char *words, uint32_t *address, uint8_t *bytes)
{
    char *symbol = strtok(words, " \n"), *hex = strtok(NULL, " \n");
    if (!symbol || !hex || elf_symbol(image, symbol, address) != 0 || strlen(hex) % 2 != 0)
        return -1;
    int count = (int)(strlen(hex) / 2);
    for (int i = 0; i < count; i++) {
        unsigned byte;
        if (sscanf(hex + 2 * i, "%2x", &byte) != 1)
            return -1;
        bytes[i] = (uint8_t)byte;
    }
    return count;
}

#endif
