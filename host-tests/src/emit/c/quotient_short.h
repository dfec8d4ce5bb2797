#if defined(FRONT_END_AVR) || defined(FRONT_END_AVR_ADDS)
typedef /* TYPE */ front_end_half;
/* Shift, compare, subtract. The comparison's carry is the complement of the quotient's bit, and a subtraction that
 * happens leaves none: the next shift takes it in as it stands. What a byte's first shift takes in is out after nine. */
#define FRONT_END_BIT(byte)                                                                                  \
    "rol " byte "\n\trol %A[r]\n\trol %B[r]\n\t/* ROL */cp %A[r], %A[d]\n\tcpc %B[r], %B[d]\n\t/* CPC */" \
    "brcs 1f\n\tsub %A[r], %A[d]\n\tsbc %B[r], %B[d]\n\t/* SBC */1:\t"
#define FRONT_END_FOUR(byte) FRONT_END_BIT(byte) FRONT_END_BIT(byte) FRONT_END_BIT(byte) FRONT_END_BIT(byte)
#define FRONT_END_BYTE(byte) FRONT_END_FOUR(byte) FRONT_END_FOUR(byte) "rol " byte "\n\t"

/* The same from D / 2, without a loop, a byte of the quotient at a time. */
FRONT_END_WITHIN uint16_t front_end_short_division(front_end_half half, uint32_t low/* HIGH */)
{
    uint16_t value = (uint16_t)low;
    front_end_half rest = (front_end_half)(low >> 16/* UPPER */);
    __asm__("add %A[v], %A[d]\n\tadc %B[v], %B[d]\n\tadc %A[r], /* TOP */\n\tadc %B[r], r1\n\t/* ADC */"
            "/* ROR */ror %A[r]\n\tror %B[v]\n\tror %A[v]\n\t"
            FRONT_END_BYTE("%B[v]") FRONT_END_BYTE("%A[v]") "com %A[v]\n\tcom %B[v]"
            : [v] "+&r"(value), [r] "+&r"(rest) : [d] "r"(half));
    return value;
}
#elif FRONT_END_DIVISION == 1 /* in whose modules the lower digit of a word comes first */
typedef uint32_t front_end_half;
/* 2^20 / (256 i + 128) to nearest for i = 32 .. 127, where half >> /* PLACES */ is i: 2^/* SCALE */ / half within 2 %. */
static const uint8_t front_end_seeds[96] = {
    /* SEEDS */
};

/* The same from D / 2, for sums below 2^32, by two products: an estimate within 2 % and 2, and what is missing in the remainder but
 * for 28 at most, never too much. Shifts keep the sign, as in every compiler for these cores. */
FRONT_END_WITHIN uint16_t front_end_short_division(front_end_half half, uint32_t low/* HIGH */)
{
    uint32_t sum = (low + half) >> 1;
/* VOID */    while (half >> /* LEAST */ == 0) {
        half <<= 2;
        sum <<= 2;
    }
    const int32_t seed = front_end_seeds[(half >> /* PLACES */) - 32];
    uint32_t value = ((sum >> 8) * (uint32_t)seed >> /* ESTIMATE */) + 1;
    const int32_t rest = (int32_t)(sum - value * half), missing = /* REST */ * seed >> 20;
    value += (uint32_t)missing;
    sum = (uint32_t)rest - (uint32_t)missing * half;
    for (; sum >= half; sum -= half)
        value++;
    return (uint16_t)value;
}
#endif
