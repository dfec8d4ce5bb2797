#if FRONT_END_PRODUCTS_16

/* floor((factor * multiplier + low) / 2^16) + high, modulo 2^16: a column of a product on paper. On AVR four multiplications,
 * where the compiler would call a routine. */
FRONT_END_WITHIN uint16_t front_end_column(uint16_t factor, uint16_t multiplier, uint16_t low, uint16_t high)
{
#if FRONT_END_AVR
    uint8_t zero;
    __asm__("clr %[zero]\n\t"
            "mul %A[k], %A[m]\n\tadd %A[l], r0\n\tadc %B[l], r1\n\tadc %A[h], %[zero]\n\tadc %B[h], %[zero]\n\t"
            "mul %B[k], %A[m]\n\tadd %B[l], r0\n\tadc %A[h], r1\n\tadc %B[h], %[zero]\n\t"
            "mul %A[k], %B[m]\n\tadd %B[l], r0\n\tadc %A[h], r1\n\tadc %B[h], %[zero]\n\t"
            "mul %B[k], %B[m]\n\tadd %A[h], r0\n\tadc %B[h], r1\n\t"
            "clr r1"
            : [l] "+&r"(low), [h] "+&r"(high), [zero] "=&r"(zero)
            : [k] "r"(factor), [m] "r"(multiplier));
    return high;
#else
    return (uint16_t)((((uint32_t)factor * multiplier + low) >> 16) + high);
#endif
}

/* The lower 16 bits of factor * multiplier + addend. */
FRONT_END_WITHIN uint16_t front_end_lower_column(uint16_t factor, uint16_t multiplier, uint16_t addend)
{
    return (uint16_t)(1u * factor * multiplier + addend);
}

/* The upper 16 bits of M * factor + B, which is below 2^32. */
FRONT_END_WITHIN uint16_t front_end_upper_of_32(uint16_t factor, uint32_t m, uint32_t b)
{
    const uint16_t high = front_end_lower_column(factor, (uint16_t)(m >> 16), (uint16_t)(b >> 16));
    return front_end_column(factor, (uint16_t)m, (uint16_t)b, high);
}

/* The upper 16 bits of M * factor + B, which is below 2^48, for M and B as high * 2^16 + low. */
FRONT_END_WITHIN uint16_t front_end_upper_of_48(uint16_t factor, uint32_t high_m, uint16_t low_m, uint32_t high_b, uint16_t low_b)
{
    /* What the lowest column carries may exceed 16 bits together with the next addend: then one more is due above. */
    const uint16_t carried = front_end_column(factor, low_m, low_b, 0);
    const uint16_t middle_b = (uint16_t)((uint16_t)high_b + carried);
    const uint16_t top_b = (uint16_t)((high_b >> 16) + (middle_b < carried ? 1u : 0u));
    const uint16_t high = front_end_lower_column(factor, (uint16_t)(high_m >> 16), top_b);
    return front_end_column(factor, (uint16_t)high_m, middle_b, high);
}

#endif
