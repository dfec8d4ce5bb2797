/* ---- the same limits for a module's own constants ---- */
/* The count that a limit above 0 is compared with; 0 when all readable voltages, or none, are beyond it. By halving the
 * window with the conversion itself, at most 26 times, so that comparing counts gives the verdict of comparing voltages. */
FRONT_END_APART front_end_position front_end_count_limit(const front_end_module *module, uint8_t over, uint16_t limit)
{
    const front_end_position counts = FRONT_END_WHOLE(module->digit + 6);
    front_end_position low = 0, high = counts;
    if (!over)
        limit--; /* not under it is over the one before */
    while (low < high) {
        const front_end_position position = (front_end_position)(low + ((front_end_position)(high - low) >> 1));
        if ((front_end_calibrated_at(module, position) > limit) == FRONT_END_COUNT_RISES)
            high = position;
        else
            low = (front_end_position)(position + 1);
    }
    return low == 0 || low == counts ? 0
        : (front_end_position)(FRONT_END_WHOLE(module->digit + 4) + low - (over == FRONT_END_COUNT_RISES));
}

typedef struct {
    uint32_t trip, hold; /* beyond trip, a clear alarm counts towards tripping; beyond hold, an active one stays */
} front_end_limit;

/* A limit and where it comes back, in output units. After a refusal all counts are beyond but the one at the safe end. */
static inline uint8_t front_end_limit_of(const front_end_module *module, uint8_t over, uint16_t trip, uint16_t hold, front_end_limit *limit)
{
    limit->trip = front_end_count_limit(module, over, trip);
    limit->hold = front_end_count_limit(module, over, hold);
    if (limit->trip != 0 && limit->hold != 0)
        return FRONT_END_ACCEPTED;
    limit->trip = limit->hold = over == FRONT_END_COUNT_RISES ? 0 : UINT32_C(0xFFFFFFFF);
    return FRONT_END_LIMIT;
}
