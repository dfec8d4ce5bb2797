/* ---- floor(H / E + 1/2), E even ---- */

#if FRONT_END_NO_DIVIDER

/* round(2^13 / (2 i + 1)) for i = 16 .. 127: 2^33 over the middle of an interval of E. */
static const uint8_t front_end_seeds[112] FRONT_END_FLASH = {
    /* SEEDS */
};

/* Bit by bit, for any even E below 2^31: the quotient's bits come in from the right while the numerator's leave on the left. */
static inline uint16_t front_end_long_division(uint64_t h, uint32_t e)
{
    const uint64_t raised = h + (e >> 1);
    uint32_t rest = (uint32_t)(raised >> 16);
    uint16_t value = (uint16_t)raised;
    uint8_t bits;
    for (bits = 16; bits > 0; bits--) {
        rest = (rest << 1) | (uint32_t)(value >> 15);
        value = (uint16_t)(value << 1);
        if (rest >= e) {
            rest -= e;
            value = (uint16_t)(value | 1u);
        }
    }
    return value;
}

/* With `low` = H mod 2^32 and `top` = floor(H / 2^24): a seed of five bits and two refinements, each rounded down, so that no
 * estimate exceeds the quotient. E below 2^24 is raised, with H; E of 2^27 or more is divided bit by bit. */
static inline uint16_t front_end_quotient(uint32_t e, uint32_t low, uint32_t top)
{
    uint32_t half, seed, reciprocal, first, rest, second;
    while (e < UINT32_C(0x1000000)) {
        e <<= 3;
        top = (top << 3) | ((low >> 21) & 7);
        low <<= 3;
    }
    if (e >= UINT32_C(0x8000000))
        return front_end_long_division(((uint64_t)top << 24) | (low & UINT32_C(0xFFFFFF)), e);
    half = e >> 1;
    seed = FRONT_END_READ(&front_end_seeds[(e >> 20) - 16]);
    reciprocal = (seed * ((0 - half * seed) >> 15)) >> 8; /* 0 to 1 part in 1000 below 2^40 / E */
    first = (top * reciprocal) >> 16;                     /* at most H / E */
    rest = low - first * e;                               /* H - first * E, exactly: below 2^32 */
    second = ((rest >> 16) * reciprocal) >> 24;           /* what is missing, less than 1.08 too little */
    rest -= second * e;
    return (uint16_t)(first + second + (rest >= half ? 1 : 0));
}

#endif
