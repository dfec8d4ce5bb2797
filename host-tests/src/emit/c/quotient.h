/* How quotients are formed; the values are the same. 0: by the core's divider. 1: by products, on cores with a multiplier and no
 * divider, the lower byte first. 2: bit by bit, on 8-bit cores. */
#if defined(FRONT_END_DIVISION)
#elif defined(__AVR__)
#define FRONT_END_DIVISION 2
#elif (defined(__ARM_ARCH_6M__) && !defined(__ARM_BIG_ENDIAN)) || (defined(__riscv) && defined(__riscv_mul) && !defined(__riscv_div))
#define FRONT_END_DIVISION 1
#else
#define FRONT_END_DIVISION 0
#endif

/* floor(K / D + 1/2), D even, bit by bit, with K as rest * 2^16 + value, for D below 2^31; 2^16 or more where the
 * quotient is. Its bits come in from the right while those of the value leave on the left; what remains rounds. */
FRONT_END_APART uint32_t front_end_long_division(uint32_t d, uint32_t rest, uint16_t value)
{
    if (rest >= d)
        return UINT32_C(0x10000);
    for (uint8_t bits = 16; bits > 0; bits--) {
        rest <<= 1;
        if ((value & 0x8000) != 0)
            rest |= 1;
        value = (uint16_t)(value << 1);
        if (rest >= d) {
            rest -= d;
            value |= 1;
        }
    }
    if (rest << 1 >= d)
        return (uint32_t)value + 1;
    return value;
}
