/* SPDX-License-Identifier: MIT OR Apache-2.0
 *
 * A whole firmware in C for a chip of 8 kB of flash and 512 bytes of RAM, an ATtiny84 at 8 MHz (data sheet 8006): it samples cell and
 * sensor through the converter's registers, reads a channel with four limits, and sends a line for each reading by pin PB2, 9600 baud, 8 bits,
 * no parity:
 *
 *   3301 254 alarms 0 faults 0      millivolts, tenths of a degree Celsius, `-` for what is none; alarms and faults added up
 *
 * A module's record lies in one of two slots of 32 bytes at the start of the EEPROM, so power may fail while the other one is written: the
 * later of those that are accepted is used. Without one it says `no calibration`, and goes on as drawn.
 *
 * **Lithium cells burn:** this measures, and protects nothing. It has run in a simulator, not on silicon.
 *
 *   tallyvolt emit board-supply.toml --lang c --channel --out board_supply.h       and the same of board-divided
 *   avr-gcc -mmcu=attiny84 -Os -fshort-enums -std=c99 -DSUPPLY=1 -o firmware.elf main.c    the cell is supply and reference
 *   avr-gcc -mmcu=attiny84 -Os -fshort-enums -std=c99 -DSUPPLY=0 -o firmware.elf main.c    the cell through a divider, against AREF
 */
#include <avr/io.h>
#include <avr/pgmspace.h>
#include <util/delay_basic.h>

/* The front end's names without its own. */
#if SUPPLY
#define BOARD_SUPPLY_CHANNEL_AS_DRAWN 0
#include "board_supply.h"
#define BOARD(name) board_supply_##name
#define BOARD_VALUE(name) BOARD_SUPPLY_##name
/* ADC3, a reference of 1.1 V, against the supply; 0x21 would be the chip's own bandgap, which the simulator does not have. */
#define CELL 3
#define SENSOR 1 /* ADC1, against the supply, which feeds the sensor */
#else
#define BOARD_DIVIDED_CHANNEL_AS_DRAWN 0
#include "board_divided.h"
#define BOARD(name) board_divided_##name
#define BOARD_VALUE(name) BOARD_DIVIDED_##name
#define CELL (_BV(REFS0) | 2)   /* ADC2, against AREF */
#define SENSOR (_BV(REFS0) | 1) /* ADC1, against AREF, which feeds the sensor */
#endif

/* Conversions thrown away after a change of channel: 8 at 104 us, while the reference settles. */
enum { SETTLING = 8, RECORD_BYTES = 32 };

static uint16_t sample(void)
{
    ADCSRA = _BV(ADEN) | _BV(ADSC) | _BV(ADPS2) | _BV(ADPS1); /* 125 kHz */
    while (ADCSRA & _BV(ADSC))
        ;
    return ADC;
}

static void select(uint8_t channel)
{
    uint8_t left;
    ADMUX = channel;
    for (left = SETTLING; left > 0; left--)
        (void)sample();
}

static void send(char byte)
{
    uint16_t frame = (uint16_t)((uint8_t)byte << 1 | 0x200); /* start bit, eight bits, stop bit */
    for (; frame != 0; frame >>= 1) {
        if (frame & 1)
            PORTB |= _BV(PB2);
        else
            PORTB &= (uint8_t)~_BV(PB2);
        _delay_loop_2(206); /* with the loop around it 833 cycles */
    }
}

static void number(uint16_t value)
{
    if (value >= 10)
        number(value / 10);
    send((char)('0' + value % 10));
}

/* Text in flash. */
static void text(const char *bytes)
{
    char byte;
    while ((byte = (char)pgm_read_byte(bytes++)) != 0)
        send(byte);
}

static void line(const BOARD(reading) *reading)
{
    int16_t tenths = reading->temperature;
    if (reading->voltage_fault == BOARD_VALUE(NO_FAULT))
        number(reading->voltage);
    else
        send('-');
    send(' ');
    if (reading->temperature_fault != BOARD_VALUE(NO_FAULT)) {
        send('-');
    } else {
        if (tenths < 0) {
            send('-');
            tenths = (int16_t)-tenths;
        }
        number((uint16_t)tenths);
    }
    text(PSTR(" alarms "));
    number(reading->alarms);
    text(PSTR(" faults "));
    number(reading->doubts);
    send('\n');
}

static uint8_t eeprom(uint8_t address)
{
    EEARL = address;
    EECR = _BV(EERE);
    return EEDR;
}

static uint16_t window[BOARD_VALUE(SAMPLES)];

/* Loads a slot's record through the window, which has no samples yet. */
static uint8_t loads(BOARD(module) *module, uint8_t slot)
{
    uint8_t *bytes = (uint8_t *)window;
    uint8_t left;
    for (left = RECORD_BYTES; left > 0; left--)
        *bytes++ = eeprom(slot++);
    return BOARD(load)((const uint8_t *)window, module) == BOARD_VALUE(ACCEPTED);
}

/* Loads the later of the records that are accepted, by their sequence numbers, modulo 2^16. */
static uint8_t loads_later(BOARD(module) *module)
{
    const uint8_t first = loads(module, 0);
    const uint16_t sequence = module->digit[1];
    if (loads(module, RECORD_BYTES) && (!first || (int16_t)(module->digit[1] - sequence) > 0))
        return 1;
    return loads(module, 0);
}

/* It never returns, so it need not leave registers as they were. */
__attribute__((OS_main)) int main(void);

int main(void)
{
    /* Here and not static: the compiler reaches them by shorter instructions. */
    BOARD(module) module;
    BOARD(channel) channel;
    DDRB = PORTB = _BV(PB2);
    if (!loads_later(&module)) {
        BOARD(drawn)(&module);
        text(PSTR("no calibration\n"));
    }
    if (BOARD(channel_start)(&channel, &module) != BOARD_VALUE(ACCEPTED))
        text(PSTR("a limit cannot be read\n"));
    for (;;) {
        BOARD(reading) reading;
        uint32_t sensor = 0;
        uint8_t i;
        select(CELL);
        for (i = 0; i < BOARD_VALUE(SAMPLES); i++)
            window[i] = sample();
        select(SENSOR);
        for (i = 0; i < BOARD_VALUE(SENSOR_SAMPLES); i++)
            sensor += sample();
        BOARD(channel_read)(&channel, window, &sensor, 0, &reading);
        line(&reading);
    }
}
