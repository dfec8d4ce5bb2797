/* SPDX-License-Identifier: MIT OR Apache-2.0
 * A whole firmware for an ATmega328P at 8 MHz: the cell is the supply, the internal reference is sampled, and a line over the
 * UART says the cell's voltage. Lithium cells burn: this measures, and protects nothing.
 *
 *   tallyvolt emit hut-supply.toml --lang c --out hut_supply.h
 *   avr-gcc -mmcu=atmega328p -Os -std=c99 -o hut_supply.elf main.c
 */
#include <avr/eeprom.h>
#include <avr/io.h>
#include <stdlib.h>

#include "hut_supply.h"

/* Where in the EEPROM the bench stores the calibration record. */
#define RECORD_ADDRESS ((const void *)0)

static uint16_t sample(void)
{
    ADMUX = _BV(REFS0) | 14; /* the internal reference, against the supply */
    ADCSRA = _BV(ADEN) | _BV(ADSC) | _BV(ADPS2) | _BV(ADPS1);
    while (ADCSRA & _BV(ADSC))
        ;
    return ADC;
}

static void send(const char *text)
{
    for (; *text != '\0'; text++) {
        while (!(UCSR0A & _BV(UDRE0)))
            ;
        UDR0 = (uint8_t)*text;
    }
}

int main(void)
{
    uint8_t record[HUT_SUPPLY_RECORD_BYTES];
    hut_supply_module module;
    uint8_t calibrated;

    UBRR0 = 51; /* 9600 baud */
    UCSR0B = _BV(TXEN0);
    eeprom_read_block(record, RECORD_ADDRESS, sizeof record);
    calibrated = hut_supply_load(record, &module) == HUT_SUPPLY_ACCEPTED;
    for (;;) {
        const uint16_t count = sample();
        uint16_t mv;
        const hut_supply_fault fault =
            calibrated ? hut_supply_calibrated_voltage(&module, count, &mv) : hut_supply_voltage(count, &mv);
        if (fault == HUT_SUPPLY_NO_FAULT) {
            char digits[6];
            send(utoa(mv, digits, 10));
            send(calibrated ? " mV\n" : " mV, not calibrated\n");
        } else {
            send(fault == HUT_SUPPLY_RAIL ? "rail\n" : "no voltage\n");
        }
    }
}
