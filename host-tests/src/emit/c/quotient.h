/* ---- floor(H / E + 1/2), E even ---- */

#if FRONT_END_DIVISION != 0

#if defined(__AVR__)
/* Shift, compare, subtract. The comparison's carry is the complement of the quotient's bit. */
#define FRONT_END_ONE_BIT                                                                            \
    "rol %A[v]\n\trol %B[v]\n\trol %A[r]\n\trol %B[r]\n\trol %C[r]\n\t"                              \
    "cp %A[r], %A[e]\n\tcpc %B[r], %B[e]\n\tcpc %C[r], %C[e]\n\tbrcs 1f\n\t"                        \
    "sub %A[r], %A[e]\n\tsbc %B[r], %B[e]\n\tsbc %C[r], %C[e]\n1:\n\t"
#define FRONT_END_FOUR_BITS FRONT_END_ONE_BIT FRONT_END_ONE_BIT FRONT_END_ONE_BIT FRONT_END_ONE_BIT
#endif

/* Bit by bit, with H as high * 2^32 + low, for E below 2^31 and a quotient below 2^16. Of N = H + E/2 the upper part is a remainder below E from the start;
 * the quotient's bits come in from the right while the lower part's leave on the left. */
static inline uint16_t front_end_long_division(uint32_t e, uint32_t low, uint32_t high)
{
    const uint32_t half = e >> 1, lower = low + half;
    uint32_t rest = ((high + (lower < half ? 1 : 0)) << 16) | (lower >> 16);
    uint16_t value = (uint16_t)lower;
    uint8_t bits;
#if defined(__AVR__)
    if (e < UINT32_C(0x800000)) {
        /* In 24 bits and without a loop. */
        __asm__(FRONT_END_FOUR_BITS FRONT_END_FOUR_BITS FRONT_END_FOUR_BITS FRONT_END_FOUR_BITS
                "rol %A[v]\n\trol %B[v]\n\tcom %A[v]\n\tcom %B[v]"
                : [v] "+&r"(value), [r] "+&r"(rest)
                : [e] "r"(e));
        return value;
    }
#endif
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

#endif

#if FRONT_END_DIVISION == 1

/* round(2^13 / (2 i + 1)) for i = 16 .. 127: 2^33 over the middle of an interval of E. */
static const uint8_t front_end_seeds[112] = {
    /* SEEDS */
};

/* With `low` = H mod 2^32 and `top` = floor(H / 2^24): a seed of five bits and two refinements, each rounded down, so that no
 * estimate exceeds the quotient. E below 2^24 is raised, with H; E of 2^27 or more is divided bit by bit. */
static inline uint16_t front_end_refined(uint32_t e, uint32_t low, uint32_t top)
{
    uint32_t half, seed, reciprocal, first, rest, second;
    while (e < UINT32_C(0x1000000)) {
        e <<= 3;
        top = (top << 3) | ((low >> 21) & 7);
        low <<= 3;
    }
    if (e >= UINT32_C(0x8000000))
        return front_end_long_division(e, low, top >> 8);
    half = e >> 1;
    seed = front_end_seeds[(e >> 20) - 16];
    reciprocal = (seed * ((0 - half * seed) >> 15)) >> 8; /* 0 to 1 part in 1000 below 2^40 / E */
    first = (top * reciprocal) >> 16;                     /* at most H / E */
    rest = low - first * e;                               /* H - first * E, exactly: below 2^32 */
    second = ((rest >> 16) * reciprocal) >> 24;           /* what is missing, less than 1.08 too little */
    rest -= second * e;
    return (uint16_t)(first + second + (rest >= half ? 1 : 0));
}

#endif
