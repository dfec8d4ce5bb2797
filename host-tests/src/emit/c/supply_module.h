/* The constants of one module, derived once at load by front_end_calibrate: round(H / 2 / D) with D = position * 2^step_log2
 * + at_first. For refinement both are kept doubled until the largest E = 2 D is 2^26 or more: E = position * 2^step_log2 +
 * at_first, low = H mod 2^32, top = floor(H / 2^24). */
typedef struct {
    uint32_t first;  /* first count that is a voltage */
    uint32_t counts; /* number of counts that are; 0 after a refusal, so that every count is a fault */
    uint32_t at_first;
    uint32_t low;
#if FRONT_END_DIVISION == 1
    uint32_t top;
#else
    uint32_t high; /* H = high * 2^32 + low */
#endif
    uint8_t step_log2;
} front_end_module;

/* A module without a calibration: every count is a fault. */
static inline void front_end_empty(front_end_module *module)
{
    module->first = FRONT_END_RAIL_COUNT;
    module->counts = 0;
    module->at_first = 1;
    module->low = 0;
#if FRONT_END_DIVISION == 1
    module->top = 0;
#else
    module->high = 0;
#endif
    module->step_log2 = 0;
}

static inline uint16_t front_end_calibrated_at(const front_end_module *module, front_end_position position)
{
    const uint32_t denominator = ((uint32_t)position << module->step_log2) + module->at_first;
#if FRONT_END_DIVISION == 1
    return front_end_refined(denominator, module->low, module->top);
#elif FRONT_END_DIVISION == 2
    return front_end_long_division(denominator << 1, module->low, module->high);
#else
    if (module->high == 0)
        return (uint16_t)((module->low / denominator + 1) >> 1);
    return (uint16_t)(((((uint64_t)module->high << 32) | module->low) / denominator + 1) >> 1);
#endif
}
