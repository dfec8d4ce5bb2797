#if defined(FRONT_END_AVR) || defined(FRONT_END_AVR_ADDS)
typedef /* HALF */ front_end_half_denominator;
#define FRONT_END_SHORT_END UINT32_C(/* END */) /* the least D that is too long for this division */
/* Shift, compare, subtract. The comparison's carry is the complement of the quotient's bit, and a subtraction that
 * happens leaves none: the next shift takes it in as it stands. What a byte's first shift takes in is out after nine. */
#define FRONT_END_BIT(byte)                                                                                  \
    "rol " byte "\n\trol %A[r]\n\trol %B[r]\n\t/* ROL */cp %A[r], %A[d]\n\tcpc %B[r], %B[d]\n\t/* CPC */" \
    "brcs 1f\n\tsub %A[r], %A[d]\n\tsbc %B[r], %B[d]\n\t/* SBC */1:\t"
#define FRONT_END_FOUR(byte) FRONT_END_BIT(byte) FRONT_END_BIT(byte) FRONT_END_BIT(byte) FRONT_END_BIT(byte)
#define FRONT_END_BYTE(byte) FRONT_END_FOUR(byte) FRONT_END_FOUR(byte) "rol " byte "\n\t"

/* The same from D / 2, without a loop, a byte of the quotient at a time. */
FRONT_END_WITHIN uint16_t front_end_short_division(front_end_half_denominator half, uint32_t low, uint16_t high)
{
    uint16_t value = (uint16_t)low;
    front_end_half_denominator rest = (front_end_half_denominator)(low >> 16/* HIGH */);
    __asm__("add %A[v], %A[d]\n\tadc %B[v], %B[d]\n\tadc %A[r], /* TOP */\n\tadc %B[r], r1\n\t/* ADC */"
            "/* ROR */ror %B[r]\n\tror %A[r]\n\tror %B[v]\n\tror %A[v]\n\t"
            FRONT_END_BYTE("%B[v]") FRONT_END_BYTE("%A[v]") "com %A[v]\n\tcom %B[v]"
            : [v] "+&r"(value), [r] "+&r"(rest) : [d] "r"(half));/* VOID */
    return value;
}
#endif
