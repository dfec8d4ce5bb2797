#ifdef FRONT_END_PRODUCTS_16
/* floor((factor * multiplier + low) / 2^16) + high, modulo 2^16: a column of a product on paper. On AVR four
 * multiplications, where the compiler would call a routine. */
FRONT_END_WITHIN uint16_t front_end_column(uint16_t factor, uint16_t multiplier, uint16_t low, uint16_t high)
{
#ifdef FRONT_END_AVR
    uint8_t zero;
    __asm__("clr %[zero]\n\t"
            "mul %A[k], %A[m]\n\tadd %A[l], r0\n\tadc %B[l], r1\n\tadc %A[h], %[zero]\n\tadc %B[h], %[zero]\n\t"
            "mul %B[k], %A[m]\n\tadd %B[l], r0\n\tadc %A[h], r1\n\tadc %B[h], %[zero]\n\t"
            "mul %A[k], %B[m]\n\tadd %B[l], r0\n\tadc %A[h], r1\n\tadc %B[h], %[zero]\n\t"
            "mul %B[k], %B[m]\n\tadd %A[h], r0\n\tadc %B[h], r1\n\tclr r1"
            : [l] "+&r"(low), [h] "+&r"(high), [zero] "=&r"(zero)
            : [k] "r"(factor), [m] "r"(multiplier));
    return high;
#else
    return (uint16_t)((((uint32_t)factor * multiplier + low) >> 16) + high);
#endif
}

/* UPPER */
#ifdef FRONT_END_AVR_ADDS
/* M * p + B from the lowest bit of M on: p is added for a bit of 1, and the sum is halved for every bit. What falls away is
 * what the floor of the whole would drop, and with the carry no sum has more than 17 bits. */
#define FRONT_END_0 "lsr %B[v]\n\tror %A[v]\n\t"
#define FRONT_END_1 FRONT_END_PLUS "ror %B[v]\n\tror %A[v]\n\t"
/* Bits of M above the value's lowest: p is added as it stands, and doubled. */
#define FRONT_END_PLUS "add %A[v], %A[p]\n\tadc %B[v], %B[p]\n\t"
#define FRONT_END_TWICE "lsl %A[p]\n\trol %B[p]\n\t"
#endif
#endif
