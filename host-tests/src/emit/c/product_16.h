#if FRONT_END_PRODUCTS_16

/* factor * multiplier + addend, in 32 bits. On AVR four multiplications, where the compiler would call a routine. */
static inline uint32_t front_end_multiply_add(uint16_t factor, uint16_t multiplier, uint32_t addend)
{
#if defined(__AVR_HAVE_MUL__)
    uint8_t zero;
    __asm__("clr %[zero]\n\t"
            "mul %A[k], %A[m]\n\tadd %A[t], r0\n\tadc %B[t], r1\n\tadc %C[t], %[zero]\n\tadc %D[t], %[zero]\n\t"
            "mul %B[k], %A[m]\n\tadd %B[t], r0\n\tadc %C[t], r1\n\tadc %D[t], %[zero]\n\t"
            "mul %A[k], %B[m]\n\tadd %B[t], r0\n\tadc %C[t], r1\n\tadc %D[t], %[zero]\n\t"
            "mul %B[k], %B[m]\n\tadd %C[t], r0\n\tadc %D[t], r1\n\t"
            "clr r1"
            : [t] "+r"(addend), [zero] "=&r"(zero)
            : [k] "r"(factor), [m] "r"(multiplier));
    return addend;
#else
    return (uint32_t)factor * multiplier + addend;
#endif
}

/* The upper 16 bits of M * factor + B, which is below 2^32. */
static inline uint16_t front_end_upper_of_32(uint16_t factor, uint32_t m, uint32_t b)
{
    const uint16_t high = (uint16_t)(1u * (uint16_t)(m >> 16) * factor + (uint16_t)(b >> 16));
    return (uint16_t)(front_end_multiply_add(factor, (uint16_t)m, ((uint32_t)high << 16) | (uint16_t)b) >> 16);
}

/* The upper 16 bits of M * factor + B, which is below 2^48, for M and B as high * 2^16 + low. */
static inline uint16_t front_end_upper_of_48(uint16_t factor, uint32_t high_m, uint16_t low_m, uint32_t high_b, uint16_t low_b)
{
    const uint32_t carry = front_end_multiply_add(factor, low_m, low_b) >> 16;
    const uint16_t high = (uint16_t)(1u * (uint16_t)(high_m >> 16) * factor + (uint16_t)(high_b >> 16));
    const uint32_t addend = (((uint32_t)high << 16) | (uint16_t)high_b) + carry;
    return (uint16_t)(front_end_multiply_add(factor, (uint16_t)high_m, addend) >> 16);
}

#endif
