/* Readings of a file through an emitted channel, each as a line. FRONT_END: the header's names. Records: u8 kind, then
 *   0  FRONT_END_SAMPLES samples (u16), u8 whether the sensor was taken, u32 its count, u8 bleeding
 *   1  nothing: all alarms are acknowledged
 * all little endian; the first 32 bytes are the module's record, zeros for none, or ones for the drawing
 * as a module. */
#include <stdio.h>

static uint32_t number(FILE *file, int bytes)
{
    uint32_t value = 0;
    int i;
    for (i = 0; i < bytes; i++)
        value |= (uint32_t)(getc(file) & 0xFF) << (8 * i);
    return value;
}

int main(int arguments, char **argument)
{
    FILE *file = arguments == 2 ? fopen(argument[1], "rb") : 0;
    static uint16_t window[front_end_samples];
    uint8_t record[32];
    front_end_module module;
    front_end_channel channel;
    front_end_reading reading;
    int i, kind, calibrated = 0;
    if (file == 0)
        return 2;
    for (i = 0; i < 32; i++) {
        record[i] = (uint8_t)number(file, 1);
        calibrated |= record[i];
    }
#ifdef HAS_DRAWN
    if (calibrated && record[0] == 1)
        front_end_drawn(&module);
    else
#endif
    if (calibrated && front_end_load(record, &module) != 0)
        return 3;
    if (front_end_channel_start(&channel, calibrated ? &module : 0) != 0)
        return 4;
    while ((kind = getc(file)) != EOF) {
        uint32_t sensor;
        int taken, bleeding;
        if (kind == 1) {
#ifdef HAS_LIMITS
            front_end_channel_acknowledge(&channel);
#endif
            continue;
        }
        for (i = 0; i < front_end_samples; i++)
            window[i] = (uint16_t)number(file, 2);
        taken = (int)number(file, 1);
        sensor = number(file, 4);
        bleeding = (int)number(file, 1);
        front_end_channel_read(&channel, window, taken ? &sensor : 0, bleeding, &reading);
        printf("%u %u %d %u %u %u %u\n", (unsigned)reading.voltage_fault, (unsigned)reading.voltage,
               (int)reading.temperature, (unsigned)reading.temperature_fault, (unsigned)reading.has_temperature,
               (unsigned)reading.doubts, (unsigned)reading.alarms);
    }
    fclose(file);
    return 0;
}
