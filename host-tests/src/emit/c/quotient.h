/* ---- floor(K / D + 1/2), D even ---- */

/* Of N = K + D/2, K as high * 2^32 + low, what lies above 16 bits: below D where the quotient is below 2^16. */
static inline uint32_t front_end_rest(uint32_t d, uint32_t low, uint32_t high)
{
    const uint32_t lower = low + (d >> 1);
    return (high + (lower < low ? 1 : 0)) << 16 | lower >> 16;
}

/* Bit by bit, for D below 2^31: the quotient's bits come in from the right while the lower part's leave on the left. */
FRONT_END_APART uint16_t front_end_long_division(uint32_t d, uint32_t low, uint32_t high)
{
    uint32_t rest = front_end_rest(d, low, high);
    uint16_t value = (uint16_t)(low + (d >> 1));
    uint8_t bits;
    for (bits = 16; bits > 0; bits--) {
        rest = (rest << 1) | (uint32_t)(value >> 15);
        value = (uint16_t)(value << 1);
        if (rest >= d) {
            rest -= d;
            value = (uint16_t)(value | 1u);
        }
    }
    return value;
}
