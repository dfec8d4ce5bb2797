/* The constants of one module, derived once at load by front_end_calibrate: round(H / 2 / D) with D = position * 2^step_log2
 * + at_first. For refinement both are kept doubled until the largest E = 2 D is 2^26 or more: E = position * 2^step_log2 +
 * at_first, low = H mod 2^32, top = floor(H / 2^24). */
typedef struct {
    uint32_t first;  /* first count that is a voltage */
    uint32_t counts; /* number of counts that are; 0 after a refusal, so that every count is a fault */
    uint32_t at_first;
#if FRONT_END_DIVISION == 1
    uint32_t low, top;
#else
    uint64_t doubled_numerator;
#endif
    uint8_t step_log2;
} front_end_module;

static inline uint16_t front_end_calibrated_at(const front_end_module *module, front_end_position position)
{
    const uint32_t denominator = ((uint32_t)position << module->step_log2) + module->at_first;
#if FRONT_END_DIVISION == 1
    return front_end_refined(denominator, module->low, module->top);
#elif FRONT_END_DIVISION == 2
    return front_end_long_division(denominator << 1, module->doubled_numerator);
#else
    const uint64_t h = module->doubled_numerator;
    if (h <= UINT32_C(0xFFFFFFFF))
        return (uint16_t)(((uint32_t)h / denominator + 1) >> 1);
    return (uint16_t)((h / denominator + 1) >> 1);
#endif
}
