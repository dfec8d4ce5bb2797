#if FRONT_END_SENSOR_16

/* floor(rise * part / 2^16), or to nearest with ties upward. Signed values are shifted arithmetically, as gcc and clang do. */
FRONT_END_WITHIN int16_t front_end_share(int16_t rise, uint16_t part, int nearest)
{
#if defined(__AVR_HAVE_MUL__)
    int16_t share;
    uint8_t low, zero;
    __asm__("clr %[zero]\n\t"
            "mulsu %B[rise], %B[part]\n\tmovw %A[share], r0\n\t"
            "mul %A[rise], %A[part]\n\tmov %[low], r1\n\t"
            "mulsu %B[rise], %A[part]\n\tsbc %B[share], %[zero]\n\t"
            "add %[low], r0\n\tadc %A[share], r1\n\tadc %B[share], %[zero]\n\t"
            "mul %A[rise], %B[part]\n\tadd %[low], r0\n\tadc %A[share], r1\n\tadc %B[share], %[zero]\n\t"
            "clr r1"
            : [share] "=&r"(share), [low] "=&r"(low), [zero] "=&r"(zero)
            : [rise] "a"(rise), [part] "a"(part));
    return (int16_t)(nearest && low >= 0x80 ? share + 1 : share);
#else
    return (int16_t)(((int32_t)rise * part + (nearest ? 0x8000 : 0)) >> 16);
#endif
}

#endif
