/* Factor times position and a sum, below 2^32. Without a multiplier, and so with little flash, a conversion is apart. */
#if defined(__AVR__) && !defined(__AVR_HAVE_MUL__)
#define FRONT_END_SMALL FRONT_END_APART
FRONT_END_APART uint32_t front_end_product(uint16_t factor, uint16_t position, uint32_t sum)
{
    uint32_t term = factor;
    for (; position != 0; position >>= 1, term <<= 1)
        if ((position & 1) != 0)
            sum += term;
    return sum;
}
#else
#define FRONT_END_SMALL FRONT_END_WITHIN
FRONT_END_WITHIN uint32_t front_end_product(uint16_t factor, front_end_position position, uint32_t sum)
{
    return (uint32_t)factor * position + sum;
}
#endif

/* The value in the long form; 2^16 or more where it does not fit. */
FRONT_END_APART uint32_t front_end_long_value(const uint16_t *digit, front_end_position position)
{
    uint32_t sum = front_end_product(digit[12], position, digit[13]);
    sum = front_end_product(digit[8], position, (sum >> 16) + digit[10]);
    return front_end_product(digit[9], position, (sum >> 16) + digit[11]);
}

/* The value at a position in the window. */
FRONT_END_SMALL uint16_t front_end_calibrated_at(const front_end_module *module, front_end_position position)
{
    const uint16_t *digit = module->digit;
    if ((uint8_t)(digit[0] >> 8) != FRONT_END_SHORT_SHIFT)
        return (uint16_t)front_end_long_value(digit, position);
#ifdef FRONT_END_AVR
    uint16_t value, low;
    __asm__("mul %A[k], %A[m]\n\tmovw %[l], r0\n\tmul %B[k], %B[m]\n\tmovw %[v], r0\n\t"
            "mul %B[k], %A[m]\n\tadd %B[l], r0\n\tadc %A[v], r1\n\tclr r1\n\tadc %B[v], r1\n\t"
            "mul %A[k], %B[m]\n\tadd %B[l], r0\n\tadc %A[v], r1\n\tclr r1\n\tadc %B[v], r1\n\t"
            "ldd r0, Z+20\n\tadd %A[l], r0\n\tldd r0, Z+21\n\tadc %B[l], r0\n\t"
            "ldd r0, Z+22\n\tadc %A[v], r0\n\tldd r0, Z+23\n\tadc %B[v], r0\n\t/* PLACES */"
            : [v] "=&r"(value), [l] "=&r"(low)
            : [k] "r"((uint16_t)position), [m] "r"(digit[8]), "z"(digit), "m"(*module));
    return value;
#else
    return (uint16_t)(front_end_product(digit[8], position, FRONT_END_WORD(digit + 10)) >> FRONT_END_SHORT_SHIFT);
#endif
}
