/* SPDX-License-Identifier: MIT OR Apache-2.0
 * Two lines over the UART: the bandgap against the supply, then pin 0 against the internal reference. */
#include <avr/io.h>
#include <stdlib.h>

static void send(char c)
{
    while (!(UCSR0A & _BV(UDRE0)))
        ;
    UDR0 = (unsigned char)c;
}

static void report(unsigned char channel)
{
    char digits[6];
    ADMUX = channel;
    ADCSRA = _BV(ADEN) | _BV(ADSC) | _BV(ADPS2) | _BV(ADPS1);
    while (ADCSRA & _BV(ADSC))
        ;
    utoa(ADC, digits, 10);
    for (char *c = digits; *c; c++)
        send(*c);
    send('\n');
}

int main(void)
{
    UBRR0 = 51;
    UCSR0B = _BV(TXEN0);
    report(_BV(REFS0) | 14);
    report(_BV(REFS1) | _BV(REFS0) | 0);
    for (;;)
        ;
}
