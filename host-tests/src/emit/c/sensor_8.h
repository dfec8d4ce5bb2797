/* A position times 2^FRONT_END_SENSOR_RAISE as the table's entry before it, and what is left of a step, in 2^8. */
FRONT_END_WITHIN uint8_t front_end_segment(uint16_t position, uint8_t *part)
{
#if FRONT_END_AVR && FRONT_END_SENSOR_RAISE > 1 && FRONT_END_SENSOR_RAISE < 8
    uint16_t raised;
    __asm__("mul %A[k], %[p]\n\tmovw %A[o], r0\n\tmul %B[k], %[p]\n\tadd %B[o], r0\n\tclr r1"
            : [o] "=&r"(raised)
            : [k] "r"(position), [p] "r"((uint8_t)(1u << FRONT_END_SENSOR_RAISE)));
#else
    const uint16_t raised = (uint16_t)(1u * position << FRONT_END_SENSOR_RAISE);
#endif
    *part = (uint8_t)raised;
    return (uint8_t)(raised >> 8);
}

/* floor(rise * part / 2^8), or to nearest with ties upward. Signed values are shifted arithmetically, as gcc and clang do. */
FRONT_END_WITHIN int16_t front_end_share(int16_t rise, uint8_t part, int nearest)
{
#if FRONT_END_AVR
    int16_t share;
    uint8_t low;
    __asm__("mulsu %B[rise], %[part]\n\tmovw %A[share], r0\n\t"
            "mul %A[rise], %[part]\n\tmov %[low], r0\n\tadd %A[share], r1\n\tclr r1\n\tadc %B[share], r1"
            : [share] "=&r"(share), [low] "=&r"(low)
            : [rise] "a"(rise), [part] "a"(part));
    return (int16_t)(nearest && low >= 0x80 ? share + 1 : share);
#elif FRONT_END_AVR_ADDS
    /* Bit by bit, as the halves of floors are floors of halves. Of a rise below 0, read without its sign, a part too much is taken. */
    uint16_t share = 0;
    uint8_t left = part, bits = 8, rounds = 0;
    __asm__("1:\tlsr %[left]\n\tbrcc 2f\n\tadd %A[share], %A[rise]\n\tadc %B[share], %B[rise]\n"
            "2:\tror %B[share]\n\tror %A[share]\n\tror %[rounds]\n\tdec %[bits]\n\tbrne 1b"
            : [share] "+r"(share), [left] "+r"(left), [bits] "+r"(bits), [rounds] "+r"(rounds)
            : [rise] "r"(rise));
    if (rise < 0)
        share = (uint16_t)(share - ((uint16_t)part << 8));
    return (int16_t)(nearest && rounds >= 0x80 ? share + 1 : share);
#else
    return (int16_t)(((int32_t)rise * part + (nearest ? 0x80 : 0)) >> 8);
#endif
}
