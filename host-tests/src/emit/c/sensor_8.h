/* floor(rise * part / 2^8/* HALF */). */
FRONT_END_WITHIN int16_t front_end_share(int16_t rise, uint8_t part)
{
#ifdef FRONT_END_AVR
    int16_t share;
/* ROUNDS */    __asm__("mulsu %B[rise], %[part]\n\tmovw %A[share], r0\n\t"
            "mul %A[rise], %[part]\n\t/* MOV */add %A[share], r1\n\tclr r1\n\tadc %B[share], r1"
            : [share] "=&r"(share)/* WRITTEN */ : [rise] "a"(rise), [part] "a"(part));
#else
    /* Bit by bit: halves of floors are floors of halves. Of a rise below 0, read unsigned, a part too much is taken. */
    uint16_t share = 0;
    uint8_t left = part, bits = 8/* ZERO */;
    __asm__("1:\tlsr %[left]\n\tbrcc 2f\n\tadd %A[share], %A[rise]\n\tadc %B[share], %B[rise]\n"
            "2:\tror %B[share]\n\tror %A[share]\n\t/* ROR */dec %[bits]\n\tbrne 1b"
            : [share] "+r"(share), [left] "+r"(left), [bits] "+r"(bits)/* CHANGED */ : [rise] "r"(rise));
    if (rise < 0)
        share = (uint16_t)(share - ((uint16_t)part << 8));
#endif
    return (int16_t)/* SHARE */;
}
