/* SPDX-License-Identifier: MIT OR Apache-2.0
 *
 * avr_run: calls functions of an AVR image on libsimavr and counts cycles, or runs the whole image. The chip is an
 * attiny84 for an image of its kind (avr25, no multiplier), else an atmega328p.
 *
 *   avr_run IMAGE.elf [avrxt]    then requests on standard input; protocol in request.h, and for a whole image:
 *
 *   host     system VCC_MV AREF_MV LINES MAX_CYCLES [PIN PIN_MV]...
 *   runner   uart TEXT           each line that the firmware sent, without its line end
 *            end LINES CYCLES STACK    when LINES lines came, or MAX_CYCLES were spent, whichever was first; deepest stack
 *   host     eeprom HEX          what is written over the EEPROM's first bytes before each later run
 *   host     charged             how many kinds of instruction were charged, of how many: for the self-test of avrxt.h
 *
 * The attiny84 has no UART: its lines are read from pin PB2, 9600 baud, 8 bits, no parity, at the middle of each bit.
 *
 * Supply and pin voltages are what the simulated converter sees; the chip starts from reset in every `system` request.
 * Cycles are libsimavr's own count per instruction; with `avrxt` those of that generation, by avrxt.h. A called function must keep the call-saved registers, leave r1 zero
 * and balance the stack: a call that does not is an error, not a row.
 *
 * Build: cc -O2 -o avr_run avr_run.c -lsimavr -lelf     (Debian: libsimavr-dev libelf-dev)
 * libsimavr is GPL-3: this program is a separate process for measuring, never part of a firmware or of the library.
 */
#include "avrxt.h"
#include "request.h"

#include <simavr/avr_adc.h>
#include <simavr/avr_eeprom.h>
#include <simavr/avr_ioport.h>
#include <simavr/avr_uart.h>
#include <simavr/sim_avr.h>
#include <simavr/sim_core.h>
#include <simavr/sim_irq.h>

enum { CLOCK_HZ = 8000000, UART_LINE_MAX = 256, CALL_CYCLES_MAX = 20000000 };
enum { BIT_CYCLES = CLOCK_HZ / 9600, SERIAL_PIN = 2, EEPROM_MAX = 1024 };
enum { DATA_BASE = 0x800000, EEPROM_BASE = 0x810000, MACHINE_MASK = 0x7f, AVR25 = 25 };

static const char *chip_of(const struct elf_image *image)
{
    return (elf_header(image)->e_flags & MACHINE_MASK) == AVR25 ? "attiny84" : "atmega328p";
}

/* Where a called function returns to: the last flash word, which no image uses. */
static uint32_t sentinel(const avr_t *avr)
{
    return (uint32_t)avr->flashend - 1;
}

struct avr_core {
    avr_t *avr;
    const struct elf_image *image;
    int avrxt; /* cycles are those of an AVRxt core */
};

/* Bytes from the ELF's AVR address space: flash at 0, RAM at 0x800000. RAM is set as start-up code would leave it, so
 * functions can be called without running start-up code; a whole image copies its own data from flash. */
static int load_segment(void *context, uint32_t run, uint32_t load, const uint8_t *bytes, uint32_t file_size,
                        uint32_t memory_size)
{
    avr_t *avr = context;
    if (run >= EEPROM_BASE) {
        avr_eeprom_desc_t eeprom = { .ee = (uint8_t *)bytes, .offset = (uint16_t)(run - EEPROM_BASE), .size = file_size };
        /* libsimavr answers -1 also when it took them, -2 when they do not fit. */
        return avr_ioctl(avr, AVR_IOCTL_EEPROM_SET, &eeprom) == -2 ? -1 : 0;
    }
    if (run >= DATA_BASE) {
        uint32_t address = run - DATA_BASE;
        if (address <= avr->ioend || address + memory_size > (uint32_t)avr->ramend + 1)
            return -1;
        memset(avr->data + address, 0, memory_size);
        memcpy(avr->data + address, bytes, file_size);
    }
    if (file_size == 0 || load >= DATA_BASE)
        return 0;
    if (load + file_size > sentinel(avr))
        return -1;
    memcpy(avr->flash + load, bytes, file_size);
    return 0;
}

static avr_t *new_chip(const struct elf_image *image)
{
    avr_t *avr = avr_make_mcu_by_name(chip_of(image));
    if (!avr || avr_init(avr) != 0)
        return NULL;
    avr->log = LOG_NONE;
    avr->frequency = CLOCK_HZ;
    avr->codeend = avr->flashend;
    if (elf_load(image, load_segment, avr) != 0)
        return NULL;
    return avr;
}

/* avr-gcc's calling convention: arguments from r25 downward, each taking an even number of registers. */
static const char *place_arguments(avr_t *avr, const struct call_request *request)
{
    int reg = 26;
    for (int i = 0; i < request->arguments; i++) {
        const struct argument *argument = &request->argument[i];
        reg -= (argument->size + 1) & ~1;
        if (reg < 8)
            return "arguments do not fit the registers";
        for (int b = 0; b < argument->size; b++)
            avr->data[reg + b] = (uint8_t)(argument->value >> (8 * b));
    }
    return NULL;
}

/* Results: one byte in r24, two in r25:r24, four in r25:r22, eight in r25:r18. */
static uint64_t read_result(const avr_t *avr, int size)
{
    int reg = size <= 2 ? 24 : 26 - size;
    uint64_t result = 0;
    for (int b = 0; b < size; b++)
        result |= (uint64_t)avr->data[reg + b] << (8 * b);
    return result;
}

static int call_saved(int reg)
{
    return (reg >= 2 && reg <= 17) || reg == 28 || reg == 29;
}

/* Follows the stack pointer to its lowest. Code that makes room for locals writes its upper half first: until the lower one changes too, it
 * points to nothing. */
static void follow_stack(const avr_t *avr, uint16_t *last, uint16_t *lowest)
{
    const uint16_t stack = (uint16_t)(avr->data[R_SPL] | avr->data[R_SPH] << 8);
    if (stack != *last && ((stack ^ *last) & 0xff) == 0)
        return;
    *last = stack;
    /* Before start-up code sets it, it is 0. */
    if (stack > avr->ioend && stack < *lowest)
        *lowest = stack;
}

/* Runs one call. Returns NULL, or what went wrong. */
static const char *call(const struct avr_core *core, const struct call_request *request, struct call_outcome *outcome)
{
    avr_t *avr = core->avr;
    for (int reg = 0; reg < 32; reg++)
        avr->data[reg] = (uint8_t)(0xA5 ^ reg);
    avr->data[1] = 0;
    const char *error = place_arguments(avr, request);
    if (error)
        return error;
    uint8_t before[32];
    memcpy(before, avr->data, sizeof before);

    uint16_t top = avr->ramend;
    const uint32_t end = sentinel(avr);
    avr->data[top] = (end / 2) & 0xff;
    avr->data[top - 1] = (uint8_t)(end / 2 >> 8);
    uint16_t lowest = top - 2, last = lowest;
    avr->data[R_SPL] = lowest & 0xff;
    avr->data[R_SPH] = lowest >> 8;

    avr->state = cpu_Running;
    avr->pc = request->address;
    avr_cycle_count_t start = avr->cycle;
    uint64_t charged = 0;
    while (avr->pc != end) {
        uint32_t from = avr->pc;
        uint16_t opcode = (uint16_t)(avr->flash[from] | avr->flash[from + 1] << 8);
        avr->pc = avr_run_one(avr);
        if (core->avrxt) {
            int cycles = avrxt_cycles(opcode, from, avr->pc);
            if (cycles < 0)
                return "an instruction whose AVRxt cycles are not known";
            charged += (uint64_t)cycles;
        }
        follow_stack(avr, &last, &lowest);
        if (avr->state != cpu_Running || avr->cycle - start > CALL_CYCLES_MAX)
            return "the function did not return";
    }
    if ((avr->data[R_SPL] | avr->data[R_SPH] << 8) != top)
        return "the function left the stack unbalanced";
    if (avr->data[1] != 0)
        return "the function left r1 not zero";
    for (int reg = 0; reg < 32; reg++)
        if (call_saved(reg) && avr->data[reg] != before[reg])
            return "the function changed a call-saved register";
    outcome->result = read_result(avr, request->result_size);
    outcome->amount = core->avrxt ? charged : avr->cycle - start;
    outcome->stack = (uint32_t)(top - lowest);
    return NULL;
}

static void run_calls(struct avr_core *core, char *words)
{
    struct sweep sweep;
    const char *error = request_parse_call(&sweep, core->image, words);
    if (error) {
        printf("error %s\n", error);
        return;
    }
    struct call_outcome outcome;
    do {
        memset(&outcome, 0, sizeof outcome);
        error = call(core, &sweep.request, &outcome);
    } while (!error && sweep_row(&sweep, &outcome));
    sweep_end(&sweep, error);
}

struct uart_capture {
    char line[UART_LINE_MAX];
    size_t length;
    unsigned lines;
};

static void take_byte(struct uart_capture *capture, uint32_t value)
{
    if (value == '\r')
        return;
    if (value == '\n') {
        printf("uart %.*s\n", (int)capture->length, capture->line);
        capture->length = 0;
        capture->lines++;
    } else if (capture->length < UART_LINE_MAX) {
        capture->line[capture->length++] = (char)value;
    }
}

static void on_uart_byte(struct avr_irq_t *irq, uint32_t value, void *context)
{
    (void)irq;
    take_byte(context, value);
}

/* A pin that sends serially: its level, and the byte that is under way. */
struct serial {
    struct uart_capture *capture;
    int level;
    int bits; /* of the frame that were seen, the start bit among them; 0 between frames */
    unsigned byte;
    avr_cycle_count_t next; /* the middle of the next bit */
};

static void on_pin(struct avr_irq_t *irq, uint32_t value, void *context)
{
    (void)irq;
    ((struct serial *)context)->level = value != 0;
}

/* Called often: a frame starts with a low level, and ends with a high one. */
static void follow(struct serial *serial, avr_cycle_count_t now)
{
    if (serial->bits == 0) {
        if (serial->level)
            return;
        serial->bits = 1;
        serial->byte = 0;
        serial->next = now + BIT_CYCLES * 3 / 2;
    } else if (now >= serial->next) {
        if (serial->bits <= 8) {
            serial->byte |= (unsigned)serial->level << (serial->bits - 1);
            serial->bits++;
            serial->next += BIT_CYCLES;
        } else {
            if (serial->level)
                take_byte(serial->capture, serial->byte);
            else
                printf("error a frame without a stop bit\n");
            serial->bits = 0;
        }
    }
}

/* What later runs find in the EEPROM. */
static uint8_t eeprom_bytes[EEPROM_MAX];
static int eeprom_size;

static void set_eeprom(const char *words)
{
    unsigned byte;
    for (eeprom_size = 0; eeprom_size < EEPROM_MAX && sscanf(words, "%2x", &byte) == 1; words += 2)
        eeprom_bytes[eeprom_size++] = (uint8_t)byte;
    printf("ok\n");
}

static void run_system(const struct elf_image *image, const char *words)
{
    unsigned vcc, aref, lines;
    uint64_t max_cycles;
    int used = 0;
    if (sscanf(words, "%u %u %u %" SCNu64 "%n", &vcc, &aref, &lines, &max_cycles, &used) != 4) {
        printf("error system needs VCC_MV AREF_MV LINES MAX_CYCLES and pins\n");
        return;
    }
    avr_t *avr = new_chip(image);
    if (!avr) {
        printf("error the image does not fit the chip\n");
        return;
    }
    avr->vcc = avr->avcc = vcc;
    avr->aref = aref;
    if (eeprom_size > 0) {
        avr_eeprom_desc_t eeprom = { .ee = eeprom_bytes, .offset = 0, .size = (uint32_t)eeprom_size };
        avr_ioctl(avr, AVR_IOCTL_EEPROM_SET, &eeprom);
    }
    struct uart_capture capture = { .length = 0, .lines = 0 };
    struct serial serial = { .capture = &capture, .level = 1 };
    struct avr_irq_t *uart = avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT);
    if (uart) {
        uint32_t flags = 0;
        avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS('0'), &flags);
        avr_irq_register_notify(uart, on_uart_byte, &capture);
    } else {
        avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ('B'), SERIAL_PIN), on_pin, &serial);
    }
    unsigned pin, pin_mv;
    for (int more = 0; sscanf(words += used, "%u %u%n", &pin, &pin_mv, &more) == 2 && pin <= 7; used = more)
        avr_raise_irq(avr_io_getirq(avr, AVR_IOCTL_ADC_GETIRQ, ADC_IRQ_ADC0 + (int)pin), pin_mv);
    uint16_t lowest = avr->ramend, last = 0;
    while (capture.lines < lines && avr->cycle < max_cycles) {
        int state = avr_run(avr);
        if (state == cpu_Done || state == cpu_Crashed)
            break;
        follow_stack(avr, &last, &lowest);
        if (!uart)
            follow(&serial, avr->cycle);
    }
    printf("end %u %" PRIu64 " %u\n", capture.lines, (uint64_t)avr->cycle, (unsigned)(avr->ramend - lowest));
    avr_terminate(avr);
}

static void poke(struct avr_core *core, char *words)
{
    uint32_t address;
    uint8_t bytes[REQUEST_LINE_MAX / 2];
    int count = request_parse_poke(core->image, words, &address, bytes);
    uint32_t offset = address - DATA_BASE;
    if (count < 0 || address < DATA_BASE || offset <= core->avr->ioend || offset + (uint32_t)count > core->avr->ramend) {
        printf("error poke needs a symbol in RAM and hexadecimal bytes\n");
        return;
    }
    memcpy(core->avr->data + offset, bytes, (size_t)count);
    printf("ok\n");
}

int main(int argc, char **argv)
{
    struct elf_image image;
    int avrxt = argc == 3 && strcmp(argv[2], "avrxt") == 0;
    const char *error = argc == 2 || avrxt ? elf_read(&image, argv[1]) : "usage: avr_run IMAGE.elf [avrxt]";
    struct avr_core core = { .avr = error ? NULL : new_chip(&image), .image = &image, .avrxt = avrxt };
    if (!core.avr) {
        printf("error %s\n", error ? error : "the image does not fit the chip");
        return 2;
    }
    printf("ready cycles %s\n", avrxt ? "avrxt" : chip_of(&image));
    fflush(stdout);
    char line[REQUEST_LINE_MAX];
    while (fgets(line, sizeof line, stdin)) {
        if (strncmp(line, "call ", 5) == 0) {
            run_calls(&core, line + 5);
        } else if (strncmp(line, "poke ", 5) == 0) {
            poke(&core, line + 5);
        } else if (strncmp(line, "eeprom ", 7) == 0) {
            set_eeprom(line + 7);
        } else if (strcmp(line, "charged\n") == 0) {
            printf("charged %u of %d\n", avrxt_kinds_charged(), AVRXT_KINDS);
        } else if (!avrxt && strncmp(line, "system ", 7) == 0) {
            run_system(&image, line + 7);
        } else {
            printf("error unknown request\n");
        }
        fflush(stdout);
    }
    return 0;
}
