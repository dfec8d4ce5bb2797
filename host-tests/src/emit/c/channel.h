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

@L/* WATCH */
@L/* `counts` counts from `first` on that leave alarms as they are: one comparison in place of two alarms. */
@Ltypedef struct {
@L    front_end_watched first, counts;
@L} front_end_band;

@L/* An alarm, and the counts above which it trips and holds; all bits are flipped where counts below a limit are beyond it. */
@Ltypedef struct {
@L    front_end_alarm alarm;
@L    front_end_watched flip, trip, hold;
@L} front_end_watch;

/* The state of one channel; front_end_channel_start fills it. */
typedef struct {
    const front_end_module *module; /* 0: as drawn */
/* WATCHES */@V    front_end_band quiet_voltage;
@T    front_end_band quiet_temperature;
@M    uint32_t supply_minimum; /* counts above it are of a supply below the minimum */
#if FRONT_END_STUCK_READINGS > 0
    uint32_t last;
    uint8_t row;
#endif
    uint8_t settling;
} front_end_channel;

@L/* Updates a quantity's alarms, of which one may be missing, as front_end_alarm_update does, and finds where they are quiet after that:
@L * clear, up to the trip limit; active, beyond the other; nowhere while a row of readings speaks for a change. */
@LFRONT_END_APART void front_end_judge(front_end_watch *watch, front_end_watch *other, front_end_watched count, front_end_band *quiet)
@L{
@L    front_end_watched low = 0, high = (front_end_watched)-2;
@L    for (;;) {
@L        const front_end_watched flip = watch->flip;
@L        front_end_watched first = 0, last = watch->trip;
@L        uint8_t state = watch->alarm.state;
@L        const uint8_t active = state & 0x80;
@L        const uint8_t beyond = (front_end_watched)(count ^ flip) > (active ? watch->hold : last) ? 0x80 : 0;
@L        if (beyond == active || (active && FRONT_END_ALARM_LATCHES))
@L            state = active;
@L        else if (((++state) & 0x7F) >= FRONT_END_ALARM_READINGS)
@L            state = active ^ 0x80;
@L        watch->alarm.state = state;
@L        if ((state & 0x80) != 0) {
@L            first = FRONT_END_ALARM_LATCHES ? 0 : (front_end_watched)(watch->hold + 1);
@L            last = (front_end_watched)-1;
@L        }
@L        if ((state & 0x7F) != 0) {
@L            low = 1;
@L            high = 0;
@L        }
@L        if (flip != 0) {
@L            const front_end_watched flipped = (front_end_watched)~first;
@L            first = (front_end_watched)~last;
@L            last = flipped;
@L        }
@L        if (first > low)
@L            low = first;
@L        if (last < high)
@L            high = last;
@L        if (other == 0 || watch == other)
@L            break;
@L        watch = other;
@L    }
@L    quiet->first = low;
@L    quiet->counts = low > high ? 0 : (front_end_watched)(high - low + 1);
@L}

@L/* Clears all alarms, those that stay too; what is still beyond its limit trips again. */
@Lstatic inline void front_end_channel_acknowledge(front_end_channel *channel)
@L{
/* ACKNOWLEDGE */@V    channel->quiet_voltage.counts = 0;
@T    channel->quiet_temperature.counts = 0;
@L}

@V/* What a voltage's alarm is compared with, for a module; 0 where that cannot be read. */
@VFRONT_END_APART uint8_t front_end_watch_of(const front_end_module *module, uint8_t over, uint16_t trip, uint16_t hold, front_end_watch *watch)
@V{
@V    front_end_limit limit;
@V    const int readable = front_end_limit_of(module, over, trip, hold, &limit);
@V    watch->trip = (front_end_watched)((front_end_watched)limit.trip ^ watch->flip);
@V    watch->hold = (front_end_watched)((front_end_watched)limit.hold ^ watch->flip);
@V    return (uint8_t)readable;
@V}

/* DRAWN *//* Starts a channel with the constants of a loaded module, which must stay where it is, or as drawn where `module` is 0.
 * FRONT_END_LIMIT when a limit cannot be read with these constants; voltages are right all the same. */
static inline front_end_refusal front_end_channel_start(front_end_channel *channel, const front_end_module *module)
{
    front_end_refusal refusal = FRONT_END_ACCEPTED;
    channel->module = module;
/* START */@L    front_end_channel_acknowledge(channel);
#if FRONT_END_STUCK_READINGS > 0
    channel->last = 0;
    channel->row = 0;
#endif
    channel->settling = 0;
    return refusal;
}

/* The sum of a window. Of a sample at the rail or above the top code the sum is exact as well, and is rarely formed. */
FRONT_END_APART uint32_t front_end_exact_sum(const uint16_t *window)
{
    uint32_t sum = 0;
    uint16_t left;
    for (left = FRONT_END_SAMPLES; left > 0; left--)
        sum += *window++;
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
    front_end_sum sum = 0;
    uint32_t count;
    unsigned doubts = 0, alarms = 0;
    /* SIZE */ left;
    uint8_t at_rail = 0;
    reading->voltage = 0;
    reading->temperature = 0;
    reading->temperature_fault = FRONT_END_NO_FAULT;
    reading->has_temperature = 0;
    for (left = FRONT_END_SAMPLES; left > 0; left--) {
        const uint16_t one = *sample++;
        sum = (front_end_sum)(sum + one);
        /* Less one, 0 is the largest number. */
        if ((uint16_t)(one - 1u) >= (uint16_t)(top - 1u))
            at_rail = 1;
    }
    count = sum;
    if (at_rail) {
        doubts |= FRONT_END_DOUBT_SAMPLE_AT_RAIL;
        count = front_end_exact_sum(window);
    }
@M    if (count > channel->supply_minimum)
@M        doubts |= FRONT_END_DOUBT_SUPPLY_LOW;
#if FRONT_END_STUCK_READINGS > 0
    if (channel->row == 0 || channel->last != count)
        channel->row = 1;
    else if (channel->row < 255)
        channel->row++;
    channel->last = count;
    if (channel->row >= FRONT_END_STUCK_READINGS)
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
@V    else {
@V        const front_end_watched watched = FRONT_END_WATCHED(count);
@V        if ((front_end_watched)(watched - channel->quiet_voltage.first) >= channel->quiet_voltage.counts)
@V            front_end_judge(/* VOLTAGE */, watched, &channel->quiet_voltage);
@V    }
@S    if (sensor != 0) {
@T        const front_end_watched watched = FRONT_END_WATCHED(*sensor);
@S        reading->has_temperature = 1;
@T        if ((front_end_watched)(watched - channel->quiet_temperature.first) >= channel->quiet_temperature.counts)
@T            front_end_judge(/* TEMPERATURE */, watched, &channel->quiet_temperature);
@S        fault = front_end_temperature(*sensor, &reading->temperature);
@S        reading->temperature_fault = (uint8_t)fault;
@S        if (fault == FRONT_END_OPEN_CIRCUIT)
@S            doubts |= FRONT_END_DOUBT_SENSOR_OPEN;
@S        else if (fault == FRONT_END_SHORT_CIRCUIT)
@S            doubts |= FRONT_END_DOUBT_SENSOR_SHORT;
@S        else if (fault != FRONT_END_NO_FAULT)
@S            doubts |= FRONT_END_DOUBT_SENSOR_RANGE;
@S    }
@N    (void)sensor;
/* ALARMS */    reading->alarms = (uint8_t)alarms;
    reading->doubts = (uint16_t)doubts;
}
