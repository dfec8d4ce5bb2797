/* POSITION */

/* FLASH */

/* TABLE */

/* The temperature of a count of the sensor in steps of 0.1 degC.
 * Range: every uint32_t is accepted. Rounding: to nearest, ties upward, of the table's exact interpolation.
 * `temperature` is written only when the answer is FRONT_END_NO_FAULT. */
static inline front_end_fault front_end_temperature(uint32_t count, int16_t *temperature)
{
    const front_end_sensor_position narrow = (front_end_sensor_position)count;
    const front_end_sensor_position position = (front_end_sensor_position)(narrow - FRONT_END_SENSOR_FIRST_COUNT);
    if (FRONT_END_SENSOR_TOO_WIDE(count))
        return FRONT_END_FAULT_HIGH_WIRE;
    if (position >= FRONT_END_SENSOR_COUNTS)
        return narrow <= FRONT_END_SENSOR_LOW_WIRE ? FRONT_END_FAULT_LOW_WIRE
            : narrow >= FRONT_END_SENSOR_HIGH_WIRE ? FRONT_END_FAULT_HIGH_WIRE
            : narrow < FRONT_END_SENSOR_FIRST_COUNT ? FRONT_END_FAULT_BEFORE_TABLE : FRONT_END_FAULT_BEHIND_TABLE;
    *temperature = front_end_temperature_at(position);
    return FRONT_END_NO_FAULT;
}
