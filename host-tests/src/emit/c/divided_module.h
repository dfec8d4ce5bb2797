/* The constants of one module, derived once at load by front_end_calibrate: (M * position + B) >> S, in the narrower of
 * two products that is proven.
 *
 *   narrow  M = high * 2^16 + low % 2^16              B = addend_high * 2^16 + low / 2^16    S = 32   position below 2^16
 *   wide    M = (top * 2^32 + high) * 2^32 + low      B likewise, of the addend's parts      S = 80
 *
 * The first five stand where the assembly for AVR looks for them. */
typedef struct {
    uint32_t first; /* first count that is a voltage */
    uint32_t quick; /* number of counts that are, where the product is narrow; 0 where it is wide */
    uint32_t high, addend_high, low;
    uint32_t top, addend_top, addend_low;
    uint32_t counts; /* number of counts that are voltages; 0 after a refusal, so that every count is a fault */
} front_end_module;

/* A module without a calibration: every count is a fault. */
static inline void front_end_empty(front_end_module *module)
{
    module->first = FRONT_END_RAIL_COUNT;
    module->quick = module->counts = 0;
    module->high = module->addend_high = module->low = 0;
    module->top = module->addend_top = module->addend_low = 0;
}

/* The wide product. No step wraps: every whole is proven below its width, and what a lower part carries is part of that whole. */
static inline uint16_t front_end_calibrated_slow(const front_end_module *module, front_end_position position)
{
    const uint32_t low_m = module->low, low_b = module->addend_low;
    const uint32_t high_m = module->high, high_b = module->addend_high;
    const uint32_t top_m = module->top, top_b = module->addend_top;
    if ((uint32_t)position >> 16 == 0) {
        /* In digits of 16 bits: none of these sums exceeds 2^32 - 1. */
        const uint32_t factor = position;
        uint32_t column = (uint16_t)low_m * factor + (uint16_t)low_b;
        column = (low_m >> 16) * factor + (low_b >> 16) + (column >> 16);
        column = (uint16_t)high_m * factor + (uint16_t)high_b + (column >> 16);
        column = (high_m >> 16) * factor + (high_b >> 16) + (column >> 16);
        return (uint16_t)((top_m * factor + top_b + (column >> 16)) >> 16);
    }
    {
        const uint64_t upper_m = ((uint64_t)top_m << 32) | high_m, upper_b = ((uint64_t)top_b << 32) | high_b;
        const uint64_t low = (uint64_t)low_m * position + low_b;
        return (uint16_t)((upper_m * position + upper_b + (low >> 32)) >> 48);
    }
}

/* The narrow product, below 2^48. */
FRONT_END_WITHIN uint16_t front_end_calibrated_quick(const front_end_module *module, front_end_position position)
{
#if FRONT_END_PRODUCTS_16 && FRONT_END_AVR
    /* Byte by byte, six of the factor by two of the position, bytes 1 to 5 of the whole in a, b, c and v. The lowest byte of the
     * factor is often 0; then nothing can carry out of it. */
    uint16_t value;
    uint8_t m, a, b, c;
    __asm__("clr %[a]\n\tclr %[b]\n\t"
            "ldd %[m], Z+16\n\ttst %[m]\n\tbreq 1f\n\t"
            "mul %A[k], %[m]\n\tldd %[c], Z+18\n\tadd %[c], r0\n\tadc %[a], r1\n\t"
            "mul %B[k], %[m]\n\tadd %[a], r0\n\tadc %[b], r1\n"
            "1:\tldd %[m], Z+17\n\t"
            "mul %A[k], %[m]\n\tadd %[a], r0\n\tadc %[b], r1\n\tclr %[c]\n\tadc %[c], %[c]\n\t"
            "mul %B[k], %[m]\n\tadd %[b], r0\n\tadc %[c], r1\n\t"
            "ldd %[m], Z+8\n\t"
            "mul %A[k], %[m]\n\tadd %[b], r0\n\tadc %[c], r1\n\tclr %A[v]\n\tadc %A[v], %A[v]\n\t"
            "mul %B[k], %[m]\n\tadd %[c], r0\n\tadc %A[v], r1\n\t"
            "ldd %[m], Z+9\n\t"
            "mul %A[k], %[m]\n\tadd %[c], r0\n\tadc %A[v], r1\n\tclr %B[v]\n\tadc %B[v], %B[v]\n\t"
            "mul %B[k], %[m]\n\tadd %A[v], r0\n\tadc %B[v], r1\n\t"
            "ldd %[m], Z+10\n\t"
            "mul %A[k], %[m]\n\tadd %A[v], r0\n\tadc %B[v], r1\n\t"
            "mul %B[k], %[m]\n\tadd %B[v], r0\n\t"
            "ldd %[m], Z+11\n\t"
            "mul %A[k], %[m]\n\tadd %B[v], r0\n\t"
            "ldd %[m], Z+19\n\tadd %[a], %[m]\n\tldd %[m], Z+12\n\tadc %[b], %[m]\n\tldd %[m], Z+13\n\tadc %[c], %[m]\n\t"
            "ldd %[m], Z+14\n\tadc %A[v], %[m]\n\tldd %[m], Z+15\n\tadc %B[v], %[m]\n\t"
            "clr r1"
            : [v] "=&r"(value), [m] "=&r"(m), [a] "=&r"(a), [b] "=&r"(b), [c] "=&r"(c)
            : [k] "r"(position), "z"(module), "m"(*module));
    return value;
#elif FRONT_END_PRODUCTS_16
    return front_end_upper_of_48(position, module->high, (uint16_t)module->low, module->addend_high, (uint16_t)(module->low >> 16));
#else
    const uint32_t low = module->low;
    return (uint16_t)((module->high * position + module->addend_high + (((low & 0xFFFF) * position + (low >> 16)) >> 16)) >> 16);
#endif
}
