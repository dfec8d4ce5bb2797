/* SPDX-License-Identifier: MIT OR Apache-2.0
 * The rest of a firmware: samples come from standard input instead of a converter, readings go to standard output. */
#include <stdio.h>
#include <string.h>

#include "channel.h"

int main(void)
{
    uint8_t erased[32];
    channel_reading reading;
    unsigned sample;

    memset(erased, 0xFF, sizeof erased);
    channel_start(erased);
    while (scanf("%u", &sample) == 1) {
        if (!channel_sample((uint16_t)sample, &reading))
            continue;
        if (reading.fault)
            printf("no voltage\n");
        else
            printf("%u mV%s%s\n", reading.mv, reading.over_voltage ? ", over" : "", reading.calibrated ? "" : ", not calibrated");
    }
    return 0;
}
