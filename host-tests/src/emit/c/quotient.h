/* floor(K / D + 1/2), D even, bit by bit, with K as rest * 2^16 + value, for D below 2^31; 2^16 or more where the
 * quotient is. Its bits come in from the right while those of the value leave on the left; what remains rounds. */
FRONT_END_APART uint32_t front_end_long_division(uint32_t d, uint32_t rest, uint16_t value)
{
    uint32_t rounded;
    uint8_t bits;
    if (rest >= d)
        return UINT32_C(0x10000);
    for (bits = 16; bits > 0; bits--) {
        rest <<= 1;
        if ((value & 0x8000) != 0)
            rest |= 1;
        value = (uint16_t)(value << 1);
        if (rest >= d) {
            rest -= d;
            value |= 1;
        }
    }
    rounded = value;
    rest <<= 1;
    if (rest >= d)
        rounded++;
    return rounded;
}
