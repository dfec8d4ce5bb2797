/* The constants of one module, derived once at load by front_end_calibrate: round(H / 2 / D) with D = position * 2^step_log2
 * + at_first. For refinement both are kept doubled until the largest E = 2 D is 2^26 or more: E = position * 2^step_log2 +
 * at_first. All stand where the assembly for AVR looks for them. */
typedef struct {
    uint32_t first; /* first count that is a voltage */
    uint32_t quick; /* number of counts that are, where the quick way answers them; 0 where it does not */
    uint32_t at_first;
    uint32_t numerator[2]; /* H: its lower 32 bits, and what lies above these; for refinement floor(H / 2^24) */
    uint32_t counts; /* number of counts that are voltages; 0 after a refusal, so that every count is a fault */
    uint16_t step; /* 2^step_log2, for the quick way */
    uint8_t step_log2;
} front_end_module;

/* A module without a calibration: every count is a fault. */
static inline void front_end_empty(front_end_module *module)
{
    module->first = FRONT_END_RAIL_COUNT;
    module->quick = module->counts = 0;
    module->at_first = 1;
    module->numerator[0] = module->numerator[1] = 0;
    module->step = 0;
    module->step_log2 = 0;
}

static inline uint16_t front_end_calibrated_slow(const front_end_module *module, front_end_position position)
{
    const uint32_t denominator = ((uint32_t)position << module->step_log2) + module->at_first;
#if FRONT_END_DIVISION == 1
    return front_end_refined(denominator, module->numerator);
#elif FRONT_END_DIVISION == 2
    return front_end_long_division(denominator << 1, module->numerator[0], module->numerator[1]);
#else
    return (uint16_t)(((((uint64_t)module->numerator[1] << 32) | module->numerator[0]) / denominator + 1) >> 1);
#endif
}

FRONT_END_WITHIN uint16_t front_end_calibrated_quick(const front_end_module *module, front_end_position position)
{
#if FRONT_END_DIVISION == 2 && FRONT_END_PRODUCTS_16 && FRONT_END_AVR
    /* Below 2^22. */
    uint32_t denominator;
    uint8_t m;
    __asm__("ldd %[m], Z+24\n\tmul %A[k], %[m]\n\tmovw %A[d], r0\n\tclr %C[d]\n\tclr %D[d]\n\t"
            "mul %B[k], %[m]\n\tadd %B[d], r0\n\tadc %C[d], r1\n\t"
            "ldd %[m], Z+25\n\tmul %A[k], %[m]\n\tadd %B[d], r0\n\tadc %C[d], r1\n\t"
            "mul %B[k], %[m]\n\tadd %C[d], r0\n\t"
            "ldd %[m], Z+8\n\tadd %A[d], %[m]\n\tldd %[m], Z+9\n\tadc %B[d], %[m]\n\tldd %[m], Z+10\n\tadc %C[d], %[m]\n\t"
            "clr r1"
            : [d] "=&r"(denominator), [m] "=&r"(m)
            : [k] "r"(position), "z"(module), "m"(*module));
    return front_end_short_division(denominator, module->numerator[0], module->numerator[1]);
#else
    const uint32_t denominator = ((uint32_t)position << module->step_log2) + module->at_first;
#if FRONT_END_DIVISION == 1
    return front_end_refined(denominator, module->numerator);
#elif FRONT_END_DIVISION == 2
    return front_end_short_division(denominator, module->numerator[0], module->numerator[1]);
#else
    return (uint16_t)((module->numerator[0] / denominator + 1) >> 1);
#endif
#endif
}
