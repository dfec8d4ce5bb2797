/* SPDX-License-Identifier: MIT OR Apache-2.0
 * One cell's channel around the header that `tallyvolt emit host-tests/front-ends/hut-divided-thermistor.toml --lang c` writes.
 * The only file that includes it. Lithium cells burn: this measures, and protects nothing. */
#include "channel.h"

#include "hut_divided_thermistor.h"

static hut_divided_thermistor_module module;
static hut_divided_thermistor_limits limits;
static hut_divided_thermistor_alarm over;
static uint8_t calibrated;
static uint32_t sum;
static uint8_t samples;

void channel_start(const uint8_t *record)
{
    calibrated = hut_divided_thermistor_load(record, &module) == HUT_DIVIDED_THERMISTOR_ACCEPTED &&
                 hut_divided_thermistor_calibrated_limits(&module, &limits) == HUT_DIVIDED_THERMISTOR_ACCEPTED;
    hut_divided_thermistor_acknowledge(&over);
    sum = 0;
    samples = 0;
}

int channel_sample(uint16_t sample, channel_reading *reading)
{
    sum += sample;
    samples++;
    if (samples < HUT_DIVIDED_THERMISTOR_SAMPLES)
        return 0;
    reading->calibrated = calibrated;
    if (calibrated) {
        reading->fault = hut_divided_thermistor_calibrated_voltage(&module, sum, &reading->mv) != HUT_DIVIDED_THERMISTOR_NO_FAULT;
        reading->over_voltage = (uint8_t)hut_divided_thermistor_calibrated_over_voltage(&limits, &over, sum);
    } else {
        reading->fault = hut_divided_thermistor_voltage(sum, &reading->mv) != HUT_DIVIDED_THERMISTOR_NO_FAULT;
        reading->over_voltage = (uint8_t)hut_divided_thermistor_over_voltage(&over, sum);
    }
    sum = 0;
    samples = 0;
    return 1;
}
