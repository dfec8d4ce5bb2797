/* A position times 2^FRONT_END_SENSOR_RAISE as the table's entry before it, and what is left of a step, in 2^16. */
FRONT_END_WITHIN uint8_t front_end_segment(uint16_t position, uint16_t *part)
{
#if FRONT_END_AVR
    uint16_t left;
    uint8_t segment;
    __asm__("mul %A[k], %[p]\n\tmovw %A[l], r0\n\tmul %B[k], %[p]\n\tmov %[s], r1\n\tclr r1\n\t"
            "add %B[l], r0\n\tadc %[s], r1"
            : [l] "=&r"(left), [s] "=&r"(segment)
            : [k] "r"(position), [p] "r"((uint8_t)(1u << FRONT_END_SENSOR_RAISE)));
    *part = left;
    return segment;
#else
    *part = (uint16_t)(1u * position << FRONT_END_SENSOR_RAISE);
    return (uint8_t)((uint32_t)position >> (16 - FRONT_END_SENSOR_RAISE));
#endif
}

/* floor(rise * part / 2^16), or to nearest with ties upward. Signed values are shifted arithmetically, as gcc and clang do. */
FRONT_END_WITHIN int16_t front_end_share(int16_t rise, uint16_t part, int nearest)
{
#if FRONT_END_AVR
    int16_t share;
    uint8_t low, zero;
    __asm__("clr %[zero]\n\t"
            "mulsu %B[rise], %B[part]\n\tmovw %A[share], r0\n\t"
            "mul %A[rise], %A[part]\n\tmov %[low], r1\n\t"
            "mulsu %B[rise], %A[part]\n\tsbc %B[share], %[zero]\n\t"
            "add %[low], r0\n\tadc %A[share], r1\n\tadc %B[share], %[zero]\n\t"
            "mul %A[rise], %B[part]\n\tadd %[low], r0\n\tadc %A[share], r1\n\tadc %B[share], %[zero]\n\t"
            "clr r1"
            : [share] "=&x"(share), [low] "=&r"(low), [zero] "=&r"(zero)
            : [rise] "a"(rise), [part] "a"(part));
    return (int16_t)(nearest && low >= 0x80 ? share + 1 : share);
#elif FRONT_END_AVR_ADDS
    /* With n for a bit of the part, the floor of half of (floor(x) + n * rise) is that of half of (x + n * rise). Of a rise below 0, read
     * without its sign, a part too much is taken. Where the result is rounded to nearest, half goes in first. */
    uint16_t share = 0, left = part;
    uint8_t bits = 16, rounds = 0;
    __asm__("1:\tlsr %B[left]\n\tror %A[left]\n\tbrcc 2f\n\tadd %A[share], %A[rise]\n\tadc %B[share], %B[rise]\n"
            "2:\tror %B[share]\n\tror %A[share]\n\tror %[rounds]\n\tdec %[bits]\n\tbrne 1b"
            : [share] "+r"(share), [left] "+r"(left), [bits] "+r"(bits), [rounds] "+r"(rounds)
            : [rise] "r"(rise));
    if (rise < 0)
        share = (uint16_t)(share - part);
    return (int16_t)(nearest && rounds >= 0x80 ? share + 1 : share);
#else
    return (int16_t)(((int32_t)rise * part + (nearest ? 0x8000 : 0)) >> 16);
#endif
}
