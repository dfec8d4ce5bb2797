/* SPDX-License-Identifier: MIT OR Apache-2.0
 * Compares emitted headers with words that the test wrote: every count as drawn, then calibrations, then records, then
 * temperatures and alarms. */
#include <stdio.h>
#include <stdlib.h>

struct subject {
    const char *name;
    int (*voltage)(uint32_t count, uint16_t *voltage);
    int (*calibrate)(uint32_t gain, int32_t offset, uint64_t derived[8], const uint64_t wanted[8]);
    int (*calibrated)(uint32_t count, uint16_t *voltage);
    int (*decode)(const uint8_t *bytes, uint32_t words[3]);
    void (*encode)(const uint32_t words[3], uint8_t *bytes);
    /* None where there is no sensor, or no limit of the voltage. */
    int (*temperature)(uint32_t count, uint16_t *temperature);
    int (*limits)(uint32_t trip_and_hold[4]);
    int (*const *alarms)(uint32_t count, int acknowledge);
    int (*const *calibrated_alarms)(uint32_t count, int acknowledge);
};

#define COMMON(name)                                                                                              \
    static name##_module name##_one;                                                                              \
    static int name##_test_voltage(uint32_t count, uint16_t *voltage) { return (int)name##_voltage(count, voltage); } \
    static int name##_test_calibrated(uint32_t count, uint16_t *voltage)                                          \
    {                                                                                                             \
        return (int)name##_calibrated_voltage(&name##_one, count, voltage);                                      \
    }                                                                                                             \
    static int name##_test_decode(const uint8_t *bytes, uint32_t words[3])                                        \
    {                                                                                                             \
        name##_record record = { 0, 0, 0 };                                                                       \
        const int refusal = (int)name##_record_decode(bytes, &record);                                            \
        words[0] = record.gain;                                                                                   \
        words[1] = (uint32_t)record.offset;                                                                       \
        words[2] = record.sequence;                                                                               \
        if (refusal != (int)name##_load(bytes, &name##_one) || name##_record_is_newer(&record, &record))          \
            return -1;                                                                                            \
        record.sequence++;                                                                                        \
        return name##_record_is_newer(&record, &record) ? -1 : refusal;                                           \
    }                                                                                                             \
    static void name##_test_encode(const uint32_t words[3], uint8_t *bytes)                                       \
    {                                                                                                             \
        name##_record record;                                                                                     \
        record.gain = words[0];                                                                                   \
        record.offset = (int32_t)words[1];                                                                        \
        record.sequence = words[2];                                                                               \
        name##_record_encode(&record, bytes);                                                                     \
    }

#define SUBJECT(name, temperature, limits)                                                                        \
    static const struct subject name##_subject = { #name, name##_test_voltage, name##_test_calibrate,             \
                                                   name##_test_calibrated, name##_test_decode, name##_test_encode, \
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

#define DIVIDED(name)                                                                                             \
    COMMON(name)                                                                                                  \
    static int name##_test_calibrate(uint32_t gain, int32_t offset, uint64_t derived[8], const uint64_t wanted[8]) \
    {                                                                                                             \
        const int refusal = (int)name##_calibrate(gain, offset, &name##_one);                                     \
        (void)wanted;                                                                                             \
        derived[0] = name##_one.first;                                                                            \
        derived[1] = name##_one.counts;                                                                           \
        derived[2] = name##_one.quick != name##_one.counts;                                                       \
        derived[3] = 0;                                                                                           \
        derived[4] = name##_one.high;                                                                             \
        derived[5] = name##_one.low;                                                                              \
        derived[6] = name##_one.addend_high;                                                                      \
        derived[7] = name##_one.addend_low;                                                                       \
        if (derived[2]) {                                                                                         \
            derived[4] |= (uint64_t)name##_one.top << 32;                                                         \
            derived[6] |= (uint64_t)name##_one.addend_top << 32;                                                  \
        } else {                                                                                                  \
            derived[5] &= 0xFFFF;                                                                                 \
            derived[7] = name##_one.low >> 16;                                                                    \
        }                                                                                                         \
        return refusal;                                                                                           \
    }

/* For refinement the numerator is kept in another form; then the window is compared here and the rest by its values. */
#if defined(SMALL) && SMALL == 1
#define SUPPLY_DERIVED(name)                                                                                      \
    for (int i = 2; i < 8; i++)                                                                                   \
        derived[i] = wanted[i];
#else
#define SUPPLY_DERIVED(name)                                                                                      \
    derived[2] = (uint64_t)name##_one.numerator[1] << 32 | name##_one.numerator[0];                               \
    derived[3] = name##_one.step_log2;                                                                            \
    derived[4] = name##_one.at_first;                                                                             \
    derived[5] = derived[6] = derived[7] = 0 * wanted[0];
#endif

#define SUPPLY(name)                                                                                              \
    COMMON(name)                                                                                                  \
    static int name##_test_calibrate(uint32_t gain, int32_t offset, uint64_t derived[8], const uint64_t wanted[8]) \
    {                                                                                                             \
        const int refusal = (int)name##_calibrate(gain, offset, &name##_one);                                     \
        derived[0] = name##_one.first;                                                                            \
        derived[1] = name##_one.counts;                                                                           \
        SUPPLY_DERIVED(name)                                                                                      \
        return refusal;                                                                                           \
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

static void calibrations(const struct subject *subject, FILE *data)
{
    for (uint32_t left = next_word(data); left > 0; left--) {
        const uint32_t gain = next_word(data), offset = next_word(data), refusal = next_word(data);
        uint64_t derived[8], wanted[8] = { 0, 0, 0, 0, 0, 0, 0, 0 };
        for (int i = 0; refusal == 0 && i < 8; i++) {
            wanted[i] = next_word(data);
            wanted[i] |= (uint64_t)next_word(data) << 32;
        }
        compare(subject, "refusal, gain", gain, (uint64_t)subject->calibrate(gain, (int32_t)offset, derived, wanted), refusal);
        if (refusal != 0)
            continue;
        for (int i = 0; i < 8; i++)
            compare(subject, "derived constant, gain", gain, derived[i], wanted[i]);
        for (uint32_t spots = next_word(data); spots > 0; spots--) {
            const uint32_t count = next_word(data);
            compare(subject, "calibrated count", count, outcome(subject->calibrated, count), next_word(data));
        }
        calibrated_limits(subject, data);
    }
}

static void records(const struct subject *subject, FILE *data)
{
    for (uint32_t left = next_word(data); left > 0; left--) {
        uint8_t bytes[24], again[24];
        uint32_t words[3], wanted[3], refusal;
        for (int i = 0; i < 6; i++) {
            const uint32_t word = next_word(data);
            for (int byte = 0; byte < 4; byte++)
                bytes[4 * i + byte] = (uint8_t)(word >> (8 * byte));
        }
        refusal = next_word(data);
        for (int i = 0; i < 3; i++)
            wanted[i] = next_word(data);
        compare(subject, "record refused, with", wanted[0], (uint64_t)subject->decode(bytes, words), refusal);
        if (refusal != 0)
            continue;
        for (int i = 0; i < 3; i++)
            compare(subject, "record's word", (uint64_t)i, words[i], wanted[i]);
        subject->encode(words, again);
        for (int i = 0; i < 24; i++)
            compare(subject, "record's byte", (uint64_t)i, again[i], bytes[i]);
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
        calibrations(subjects[i], data);
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
