/* SPDX-License-Identifier: MIT OR Apache-2.0
 * Compares emitted headers with words that the test wrote: every count as drawn, then records and what is
 * converted with them, then temperatures and alarms. */
#include <stdio.h>
#include <stdlib.h>

struct subject {
    const char *name;
    int (*voltage)(uint32_t count, uint16_t *voltage);
    int (*load)(const uint8_t *bytes);
    int (*calibrated)(uint32_t count, uint16_t *voltage);
    int (*is_newer)(const uint8_t *bytes, const uint8_t *other);
    /* None where there is no sensor, or no limit of the voltage. */
    int (*temperature)(uint32_t count, uint16_t *temperature);
    int (*limits)(uint32_t trip_and_hold[4]);
    int (*const *alarms)(uint32_t count, int acknowledge);
    int (*const *calibrated_alarms)(uint32_t count, int acknowledge);
};

#define VOLTAGES(name)                                                                                            \
    static name##_module name##_one;                                                                              \
    static int name##_test_voltage(uint32_t count, uint16_t *voltage) { return (int)name##_voltage(count, voltage); } \
    static int name##_test_load(const uint8_t *bytes) { return (int)name##_load(bytes, &name##_one); }            \
    static int name##_test_calibrated(uint32_t count, uint16_t *voltage)                                          \
    {                                                                                                             \
        return (int)name##_calibrated_voltage(&name##_one, count, voltage);                                       \
    }

#define SUBJECT(name, temperature, limits)                                                                        \
    static const struct subject name##_subject = { #name, name##_test_voltage, name##_test_load,                  \
                                                   name##_test_calibrated, name##_record_is_newer,                \
                                                   temperature, limits, name##_alarms, name##_calibrated_alarms };

#define SENSOR(name)                                                                                              \
    static int name##_test_temperature(uint32_t count, uint16_t *temperature)                                     \
    {                                                                                                             \
        int16_t tenths = 0;                                                                                       \
        const int fault = (int)name##_temperature(count, &tenths);                                                \
        *temperature = (uint16_t)tenths;                                                                          \
        return fault;                                                                                             \
    }

/* An alarm keeps its state from call to call. */
#define ALARM(name, limit)                                                                                        \
    static int name##_test_##limit(uint32_t count, int acknowledge)                                               \
    {                                                                                                             \
        static name##_alarm alarm;                                                                                \
        if (acknowledge)                                                                                          \
            name##_acknowledge(&alarm);                                                                           \
        return name##_##limit(&alarm, count);                                                                     \
    }

#define CALIBRATED_ALARM(name, limit)                                                                             \
    static int name##_test_calibrated_##limit(uint32_t count, int acknowledge)                                    \
    {                                                                                                             \
        static name##_alarm alarm;                                                                                \
        if (acknowledge)                                                                                          \
            name##_acknowledge(&alarm);                                                                           \
        return name##_calibrated_##limit(&name##_one_limits, &alarm, count);                                      \
    }

static unsigned long compared, wrong;

static uint32_t next_word(FILE *data)
{
    unsigned char b[4];
    if (fread(b, 1, 4, data) != 4) {
        printf("the words end too early\n");
        exit(2);
    }
    return (uint32_t)b[0] | (uint32_t)b[1] << 8 | (uint32_t)b[2] << 16 | (uint32_t)b[3] << 24;
}

static void compare(const struct subject *subject, const char *what, uint64_t at, uint64_t answered, uint64_t exact)
{
    compared++;
    if (answered == exact)
        return;
    if (wrong++ < 20)
        printf("%s: %s %llu: answered %llx, exact %llx\n", subject->name, what, (unsigned long long)at,
               (unsigned long long)answered, (unsigned long long)exact);
}

static uint32_t outcome(int (*voltage)(uint32_t, uint16_t *), uint32_t count)
{
    uint16_t value = 0;
    const int fault = voltage(count, &value);
    return (uint32_t)fault << 16 | value;
}

static void sweep(const struct subject *subject, const char *what, int (*value)(uint32_t, uint16_t *), FILE *data)
{
    const uint32_t counts = next_word(data);
    for (uint32_t count = 0; count < counts; count++)
        compare(subject, what, count, outcome(value, count), next_word(data));
    for (uint32_t beyond = next_word(data); beyond > 0; beyond--) {
        const uint32_t count = next_word(data);
        compare(subject, what, count, outcome(value, count), next_word(data));
    }
}

static void alarms(const struct subject *subject, FILE *data)
{
    const uint32_t limits = next_word(data);
    for (uint32_t i = 0; i < limits; i++)
        for (uint32_t readings = next_word(data); readings > 0; readings--) {
            const uint32_t count = next_word(data), acknowledge = next_word(data);
            compare(subject, "alarm at count", count, (uint64_t)subject->alarms[i](count, (int)acknowledge), next_word(data));
        }
}

static void calibrated_limits(const struct subject *subject, FILE *data)
{
    const uint32_t limits = next_word(data), refusal = next_word(data);
    uint32_t ends[4] = { 0, 0, 0, 0 };
    if (limits > 0)
        compare(subject, "limits refused, of", limits, (uint64_t)subject->limits(ends), refusal);
    for (uint32_t i = 0; i < limits; i++) {
        int first = 1;
        if (next_word(data) == 0)
            continue;
        compare(subject, "calibrated trip of limit", i, ends[2 * i], next_word(data));
        compare(subject, "calibrated hold of limit", i, ends[2 * i + 1], next_word(data));
        for (uint32_t readings = next_word(data); readings > 0; readings--) {
            const uint32_t count = next_word(data);
            compare(subject, "calibrated alarm at count", count, (uint64_t)subject->calibrated_alarms[i](count, first),
                    next_word(data));
            first = 0;
        }
    }
}

static void records(const struct subject *subject, FILE *data)
{
    for (uint32_t left = next_word(data); left > 0; left--) {
        uint8_t bytes[32];
        for (int i = 0; i < 8; i++) {
            const uint32_t word = next_word(data);
            for (int byte = 0; byte < 4; byte++)
                bytes[4 * i + byte] = (uint8_t)(word >> (8 * byte));
        }
        {
            const uint32_t refusal = next_word(data);
            const unsigned long before = wrong;
            compare(subject, "record refused, left", left, (uint64_t)subject->load(bytes), refusal);
            for (int i = 0; wrong != before && i < 32; i++)
                printf("%02x%s", bytes[i], i < 31 ? "" : "\n");
            if (refusal == 0) {
                sweep(subject, "calibrated count", subject->calibrated, data);
                calibrated_limits(subject, data);
            } else
                for (uint32_t count = 1; count != 0; count <<= 1)
                    compare(subject, "refused, yet a voltage at", count, outcome(subject->calibrated, count) >> 16 != 0, 1);
        }
    }
    for (uint32_t left = next_word(data); left > 0; left--) {
        const uint32_t one = next_word(data), other = next_word(data);
        uint8_t bytes[2][32] = { { 0 } };
        bytes[0][2] = (uint8_t)one;
        bytes[0][3] = (uint8_t)(one >> 8);
        bytes[1][2] = (uint8_t)other;
        bytes[1][3] = (uint8_t)(other >> 8);
        compare(subject, "newer", one, (uint64_t)subject->is_newer(bytes[0], bytes[1]), next_word(data));
    }
}

static int run(const struct subject *const *subjects, size_t number, const char *path)
{
    FILE *data = fopen(path, "rb");
    if (!data) {
        printf("%s cannot be read\n", path);
        return 2;
    }
    for (size_t i = 0; i < number; i++) {
        sweep(subjects[i], "count", subjects[i]->voltage, data);
        records(subjects[i], data);
        sweep(subjects[i], "sensor's count", subjects[i]->temperature, data);
        alarms(subjects[i], data);
    }
    if (fgetc(data) != EOF) {
        printf("words are left over\n");
        return 2;
    }
    fclose(data);
    printf("%lu compared, %lu wrong\n", compared, wrong);
    return wrong == 0 ? 0 : 1;
}
