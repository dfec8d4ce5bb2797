/* floor(rise * part / 2^16/* HALF */). */
FRONT_END_WITHIN int16_t front_end_share(int16_t rise, uint16_t part)
{
#ifdef FRONT_END_AVR
    int16_t share;
    uint8_t rounds, zero;
    __asm__("clr %[zero]\n\t"
            "mulsu %B[rise], %B[part]\n\tmovw %A[share], r0\n\tmul %A[rise], %A[part]\n\tmov %[rounds], r1\n\t"
            "mulsu %B[rise], %A[part]\n\tsbc %B[share], %[zero]\n\t"
            "add %[rounds], r0\n\tadc %A[share], r1\n\tadc %B[share], %[zero]\n\t"
            "mul %A[rise], %B[part]\n\tadd %[rounds], r0\n\tadc %A[share], r1\n\tadc %B[share], %[zero]\n\tclr r1"
            : [share] "=&x"(share), [rounds] "=&r"(rounds), [zero] "=&r"(zero) : [rise] "a"(rise), [part] "a"(part));
#else
    /* With n for a bit of the part, the floor of half of (floor(x) + n * rise) is that of half of (x + n * rise). Of a rise
     * below 0, read without its sign, a part too much is taken. */
    uint16_t share = 0, left = part;
    uint8_t bits = 16, rounds = 0;
    __asm__("1:\tlsr %B[left]\n\tror %A[left]\n\tbrcc 2f\n\tadd %A[share], %A[rise]\n\tadc %B[share], %B[rise]\n"
            "2:\tror %B[share]\n\tror %A[share]\n\tror %[rounds]\n\tdec %[bits]\n\tbrne 1b"
            : [share] "+r"(share), [left] "+r"(left), [bits] "+r"(bits), [rounds] "+r"(rounds) : [rise] "r"(rise));
    if (rise < 0)
        share = (uint16_t)(share - part);
#endif
    return (int16_t)/* SHARE */;
}
