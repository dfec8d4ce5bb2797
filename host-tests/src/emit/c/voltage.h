/* The voltage of a count in output units, as drawn.
 * Range: every uint32_t is accepted. Rounding: to nearest, ties upward, of the exact formula above; no error on top.
 * `voltage` is written only when the answer is FRONT_END_NO_FAULT. */
static inline front_end_fault front_end_voltage(uint32_t count, uint16_t *voltage)
{
    /* Wraps on purpose: a count before the window becomes a position far behind it. */
    const front_end_position narrow = (front_end_position)count;
    const front_end_position position = (front_end_position)(narrow - FRONT_END_FIRST_COUNT);
    if (FRONT_END_TOO_WIDE(count))
        return FRONT_END_RAIL;
    if (position >= (front_end_position)FRONT_END_COUNTS)
        return front_end_fault_of(narrow, FRONT_END_FIRST_COUNT);
    *voltage = front_end_as_drawn_at(position);
    return FRONT_END_NO_FAULT;
}
