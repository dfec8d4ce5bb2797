/* The state of one limit; all zero is clear. */
typedef struct {
    uint8_t state; /* 0x80: active; below it, the readings in a row that spoke for a change */
} front_end_alarm;

static inline int front_end_alarm_is_active(const front_end_alarm *alarm)
{ return (alarm->state & 0x80) != 0; }

/* Clears an alarm, one that stays too. If the value is still beyond, it trips again after as many readings. */
static inline void front_end_acknowledge(front_end_alarm *alarm)
{ alarm->state = 0; }

/* Takes a count and answers whether the alarm is active. Beyond are the counts above a limit (upper), or below it. A
 * clear alarm becomes active after FRONT_END_ALARM_READINGS in a row beyond `trip`; an active one becomes clear after as
 * many not beyond `hold`, unless it latches. One reading that disagrees starts a row anew. */
static inline int front_end_alarm_update(front_end_alarm *alarm, uint32_t count, uint32_t trip, uint32_t hold, int upper)
{
    uint8_t state = alarm->state; /* at most 127 below the sign of being active */
    if (state < 0x80) {
        state = (uint8_t)(state + 1);
        if (upper ? count <= trip : count >= trip)
            state = 0;
        else if (state >= FRONT_END_ALARM_READINGS)
            state = 0x80;
    } else {
        state = (uint8_t)(state + 1);
        if (FRONT_END_ALARM_LATCHES || (upper ? count > hold : count < hold))
            state = 0x80;
        else if ((state & 0x7F) >= FRONT_END_ALARM_READINGS)
            state = 0;
    }
    alarm->state = state;
    return state >= 0x80;
}
