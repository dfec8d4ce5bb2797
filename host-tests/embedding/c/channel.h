/* SPDX-License-Identifier: MIT OR Apache-2.0
 * One cell's channel, for the rest of the firmware: nothing of the emitted header shows here. */
#ifndef CHANNEL_H
#define CHANNEL_H

#include <stdint.h>

typedef struct {
    uint16_t mv;            /* the cell's voltage; of no meaning with a fault */
    uint8_t fault;          /* 0: there is a voltage */
    uint8_t over_voltage;   /* the alarm is active */
    uint8_t calibrated;     /* 0: as drawn */
} channel_reading;

/* At start, with the module's record as it lies in memory. Anything that is no record of this front end leaves it as drawn. */
void channel_start(const uint8_t *record);

/* Takes the converter's result. Answers 1 when it completes sixteen, and fills the reading then. */
int channel_sample(uint16_t sample, channel_reading *reading);

#endif
