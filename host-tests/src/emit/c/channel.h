/* ---- the whole channel: a window of samples in; voltage, temperature, faults and alarms out ---- */

/* Equal counts in a row, at most 255, that are a stuck converter; 0 does not look for it. */
#ifndef FRONT_END_STUCK_READINGS
#define FRONT_END_STUCK_READINGS 0
#endif
/* Readings after the end of bleeding, at most 255, in which voltage limits are not judged yet. */
#ifndef FRONT_END_SETTLE_READINGS
#define FRONT_END_SETTLE_READINGS 0
#endif

/* 0: the way as drawn is left out, and a channel always has a module; front_end_drawn makes one of the drawing. */
#ifndef FRONT_END_CHANNEL_AS_DRAWN
#define FRONT_END_CHANNEL_AS_DRAWN 1
#endif

/* What is doubtful about a reading. */
#define FRONT_END_DOUBT_NO_VOLTAGE 0x001u     /* its voltage_fault says why */
#define FRONT_END_DOUBT_SUPPLY_LOW 0x002u     /* below the converter's minimum */
#define FRONT_END_DOUBT_SAMPLE_AT_RAIL 0x004u /* a sample stood at 0 or at the top code: the sum is cut off */
#define FRONT_END_DOUBT_STUCK 0x008u          /* the count does not move */
#define FRONT_END_DOUBT_REFERENCE_LOST 0x010u /* the reference is missing */
#define FRONT_END_DOUBT_SENSOR_OPEN 0x020u
#define FRONT_END_DOUBT_SENSOR_SHORT 0x040u
#define FRONT_END_DOUBT_SENSOR_RANGE 0x080u   /* outside the table */
#define FRONT_END_DOUBT_BLEEDING 0x100u       /* the bleed resistor conducts, or did a few readings ago */

/* Alarms of a reading. */
#define FRONT_END_ALARM_OVER_VOLTAGE 1u
#define FRONT_END_ALARM_UNDER_VOLTAGE 2u
#define FRONT_END_ALARM_OVER_TEMPERATURE 4u
#define FRONT_END_ALARM_UNDER_TEMPERATURE 8u

typedef struct {
    uint16_t voltage;          /* output units, where voltage_fault is FRONT_END_NO_FAULT; else 0 */
    int16_t temperature;       /* 0.1 degC, where has_temperature is 1 and temperature_fault is FRONT_END_NO_FAULT; else 0 */
    uint16_t doubts;           /* FRONT_END_DOUBT_.., added up */
    uint8_t alarms;            /* FRONT_END_ALARM_.., added up */
    uint8_t voltage_fault;     /* a front_end_fault */
    uint8_t temperature_fault; /* a front_end_fault */
    uint8_t has_temperature;   /* whether the sensor's count was given */
} front_end_reading;

/* WATCH */
/* The state of one channel; front_end_channel_start fills it. */
typedef struct {
    const front_end_module *module; /* 0: as drawn */
@L    front_end_alarm alarm[4];       /* in the order of their bits, behind a pointer in a word */
/* WATCHES */
@V    front_end_watched quiet_voltage[2]; /* as front_end_judge narrows them */
@T    front_end_watched quiet_temperature[2];
@M    front_end_watched supply_minimum; /* counts above it are of a supply below the minimum */
#if FRONT_END_STUCK_READINGS > 0
    uint32_t last;
    uint8_t equal; /* readings in a row with that count */
#endif
    uint8_t settling;
} front_end_channel;

@L/* Updates an alarm as front_end_alarm_update does, where counts above a limit are beyond; flipped, where counts with all bits flipped are,
@L * so that those below one are. Narrows the counts that leave its quantity's alarms as they are: those from quiet[0] on, and flipped from
@L * quiet[1] on. Clear, it is quiet up to `trip`; active, above `hold`; nowhere while a row of readings speaks for a change. */
@LFRONT_END_APART void front_end_judge(front_end_alarm *alarm, front_end_watched *quiet, uint8_t flipped, front_end_watched count,
@L                                     front_end_watched trip, front_end_watched hold)
@L{
@L    uint8_t state = alarm->state, change = state & 0x80;
@L    front_end_watched end = trip;
@L    if (flipped)
@L        count = (front_end_watched)~count;
@L    if (change)
@L        end = hold;
@L    if (count > end)
@L        change ^= 0x80;
@L    state++;
@L    if (change == 0 || (FRONT_END_ALARM_LATCHES && (state & 0x80) != 0))
@L        state &= 0x80;
@L    else if ((state & 0x7F) >= FRONT_END_ALARM_READINGS)
@L        state = (uint8_t)(~state & 0x80);
@L    alarm->state = state;
@L    if ((state & 0x7F) != 0) {
@L        quiet[0] = quiet[1] = (front_end_watched)-1;
@L        return;
@L    }
@L    end = FRONT_END_ALARM_LATCHES ? 0 : (front_end_watched)(hold + 1);
@L    if (state == 0) {
@L        flipped ^= 1;
@L        end = (front_end_watched)~trip;
@L    }
@L    if (flipped)
@L        quiet++;
@L    if (*quiet < end)
@L        *quiet = end;
@L}

@L/* Whether a count is none of those. */
@LFRONT_END_WITHIN int front_end_moves(const front_end_watched *quiet, front_end_watched count)
@L{
@L    const front_end_watched flipped = (front_end_watched)~count;
@L    return count < quiet[0] || flipped < quiet[1];
@L}

@L/* The bits of the alarms that are active. */
@LFRONT_END_WITHIN uint8_t front_end_active(const front_end_alarm *alarm)
@L{
@L    uint8_t bits = 0, left;
@L#if defined(__ARM_ARCH_6M__) && defined(__GNUC__) && !defined(FRONT_END_PORTABLE)
@L    /* The four lie in a word. Bits 0, 8, 16 and 24 become 24 to 27, and nothing else falls there. */
@L    typedef uint32_t __attribute__((__may_alias__)) word;
@L    const uint32_t active = *(const word *)(const void *)alarm >> 7 & UINT32_C(0x01010101);
@L    (void)left;
@L    bits = (uint8_t)(active * UINT32_C(0x01020408) >> 24 & 15);
@L#elif defined(__AVR__) && defined(__AVR_HAVE_MUL__)
@L    (void)left;
@L    if (alarm[0].state & 0x80)
@L        bits |= 1;
@L    if (alarm[1].state & 0x80)
@L        bits |= 2;
@L    if (alarm[2].state & 0x80)
@L        bits |= 4;
@L    if (alarm[3].state & 0x80)
@L        bits |= 8;
@L#else
@L    alarm += 4;
@L    for (left = 4; left > 0; left--) {
@L        alarm--;
@L        bits = (uint8_t)(bits << 1);
@L        if (alarm->state >= 0x80)
@L            bits++;
@L    }
@L#endif
@L    return bits;
@L}

@L/* Clears all alarms, those that stay too; what is still beyond its limit trips again. */
@Lstatic inline void front_end_channel_acknowledge(front_end_channel *channel)
@L{
@L    uint8_t i;
@L    for (i = 0; i < 4; i++)
@L        channel->alarm[i].state = 0;
@V    channel->quiet_voltage[0] = channel->quiet_voltage[1] = (front_end_watched)-1;
@T    channel->quiet_temperature[0] = channel->quiet_temperature[1] = (front_end_watched)-1;
@L}

@V/* Finds where a voltage's alarm trips and holds with a module; both 0, and no, where that cannot be read. */
@VFRONT_END_WITHIN uint8_t front_end_ends_of(const front_end_module *module, uint8_t over, uint16_t trip, uint16_t hold, front_end_watched *ends)
@V{
@V    const front_end_watched flip = over == FRONT_END_COUNT_RISES ? 0 : (front_end_watched)-1;
@V    const front_end_position tripped = front_end_count_limit(module, over, trip), held = front_end_count_limit(module, over, hold);
@V    ends[0] = ends[1] = 0;
@V    if (tripped == 0 || held == 0)
@V        return 0;
@V    ends[0] = (front_end_watched)(tripped ^ flip);
@V    ends[1] = (front_end_watched)(held ^ flip);
@V    return 1;
@V}

/* DRAWN *//* Starts a channel with the constants of a loaded module, which must stay where it is, or as drawn where `module` is 0.
 * FRONT_END_LIMIT when a limit cannot be read with these constants; voltages are right all the same. */
static inline front_end_refusal front_end_channel_start(front_end_channel *channel, const front_end_module *module)
{
    front_end_refusal refusal = FRONT_END_ACCEPTED;
    channel->module = module;
/* START */
@L    front_end_channel_acknowledge(channel);
#if FRONT_END_STUCK_READINGS > 0
    channel->last = 0;
    channel->equal = 0;
#endif
    channel->settling = 0;
    return refusal;
}

/* The sum of a window with samples at the rail or above the top code, as the channel sees it. */
FRONT_END_APART front_end_watched front_end_rare_sum(const uint16_t *window)
{
    front_end_watched sum = 0;
    uint16_t left;
    for (left = FRONT_END_SAMPLES; left > 0; left--) {
        const uint16_t one = *window++;
        sum = (front_end_watched)(sum + one);
        if (sum < one)
            return (front_end_watched)-1;
    }
    return sum;
}

/* A reading of FRONT_END_SAMPLES samples where they lie: the buffer that DMA or an interrupt has filled. `sensor` points to the count of
 * the temperature sensor; 0, or a front end without one, leaves temperature and its alarms as they are. `bleeding` tells whether the
 * bleed resistor conducts, or did while the window was sampled. */
static inline void front_end_channel_read(front_end_channel *channel, const uint16_t *window, const uint32_t *sensor, int bleeding,
                                          front_end_reading *reading)
{
    const uint16_t top = (uint16_t)((1ul << FRONT_END_BITS) - 1), *sample = window;
    front_end_fault fault;
    front_end_watched count;
    front_end_summed sum = 0;
    unsigned doubts = 0;
    /* SIZE */ left;
    uint8_t at_rail = 0;
#if FRONT_END_STUCK_READINGS > 0
    uint32_t exact = 0;
#endif
    reading->voltage = 0;
    reading->temperature = 0;
    reading->temperature_fault = FRONT_END_NO_FAULT;
    reading->has_temperature = 0;
#if defined(__GNUC__) && __GNUC__ >= 8 && !defined(__clang__) && !defined(__AVR__)
#pragma GCC unroll 4 /* the loop itself costs as much as a sample */
#endif
    for (left = FRONT_END_SAMPLES; left > 0; left--) {
        const uint_fast16_t one = *sample++;
        sum += one;
#if FRONT_END_STUCK_READINGS > 0
        exact += (uint32_t)one;
#endif
        /* Less one, 0 is the largest number. */
        if ((uint_fast16_t)(one - 1u) >= (uint_fast16_t)(top - 1u))
            at_rail = 1;
    }
    count = (front_end_watched)sum;
    if (at_rail) {
        doubts |= FRONT_END_DOUBT_SAMPLE_AT_RAIL;
        count = front_end_rare_sum(window);
    }
@M    if (count > channel->supply_minimum)
@M        doubts |= FRONT_END_DOUBT_SUPPLY_LOW;
#if FRONT_END_STUCK_READINGS > 0
    if (channel->equal == 0 || channel->last != exact)
        channel->equal = 1;
    else if (channel->equal < 255)
        channel->equal++;
    channel->last = exact;
    if (channel->equal >= FRONT_END_STUCK_READINGS)
        doubts |= FRONT_END_DOUBT_STUCK;
#endif
#if FRONT_END_CHANNEL_AS_DRAWN
    if (channel->module == 0)
        fault = front_end_voltage(count, &reading->voltage);
    else
#endif
        fault = front_end_calibrated_voltage(channel->module, count, &reading->voltage);
    reading->voltage_fault = (uint8_t)fault;
    if (fault != FRONT_END_NO_FAULT) {
        doubts |= FRONT_END_DOUBT_NO_VOLTAGE;
@B        if (fault == FRONT_END_ZERO_COUNT || fault == FRONT_END_ABOVE_RANGE)
@B            doubts |= FRONT_END_DOUBT_REFERENCE_LOST;
@A        if (fault == FRONT_END_RAIL && sensor != 0 && *sensor >= FRONT_END_SENSOR_HIGH_WIRE)
@A            doubts |= FRONT_END_DOUBT_REFERENCE_LOST;
    }
    if (bleeding || channel->settling > 0) {
        doubts |= FRONT_END_DOUBT_BLEEDING;
        if (bleeding)
            channel->settling = FRONT_END_SETTLE_READINGS;
        else
            channel->settling--;
    }
@V    else if (front_end_moves(channel->quiet_voltage, count)) {
@V        channel->quiet_voltage[0] = channel->quiet_voltage[1] = 0;
/* VOLTAGE */
@V    }
@S    if (sensor != 0) {
@S        const front_end_watched sensed = FRONT_END_WATCHED(*sensor);
@S        reading->has_temperature = 1;
@T        if (front_end_moves(channel->quiet_temperature, sensed)) {
@T            channel->quiet_temperature[0] = channel->quiet_temperature[1] = 0;
/* TEMPERATURE */
@T        }
@S        fault = front_end_temperature(sensed, &reading->temperature);
@S        reading->temperature_fault = (uint8_t)fault;
@S        if (fault == FRONT_END_OPEN_CIRCUIT)
@S            doubts |= FRONT_END_DOUBT_SENSOR_OPEN;
@S        else if (fault == FRONT_END_SHORT_CIRCUIT)
@S            doubts |= FRONT_END_DOUBT_SENSOR_SHORT;
@S        else if (fault != FRONT_END_NO_FAULT)
@S            doubts |= FRONT_END_DOUBT_SENSOR_RANGE;
@S    }
@N    (void)sensor;
@L    reading->alarms = front_end_active(channel->alarm);
@Z    reading->alarms = 0;
    reading->doubts = (uint16_t)doubts;
}
