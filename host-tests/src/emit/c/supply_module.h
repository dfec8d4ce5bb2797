/* The constants of one module: round(K / D), D = position * 2^step_log2 + at_first, which front_end_load found to fit at every
 * count. For refinement K and D are kept doubled until the largest D is 2^26 or more. */
typedef struct {
    front_end_position first;  /* first count that is a voltage */
    front_end_position quick;  /* number of counts that are, where the quick way answers them; 0 where it does not */
    front_end_position counts; /* the same in either; 0 after a refusal, so that every count is a fault */
    uint32_t at_first;
    uint32_t numerator[2]; /* K: its lower 32 bits, and what lies above these; for refinement floor(K / 2^24) */
    uint8_t step_log2;
    uint8_t half_step; /* 2^(step_log2 - 1), for the quick way of AVR */
} front_end_module;

static inline uint32_t front_end_denominator(const front_end_module *module, front_end_position position)
{
    return ((uint32_t)position << module->step_log2) + module->at_first;
}

static inline uint16_t front_end_calibrated_slow(const front_end_module *module, front_end_position position)
{
    return front_end_long_division(front_end_denominator(module, position), module->numerator[0], module->numerator[1]);
}

FRONT_END_WITHIN uint16_t front_end_calibrated_quick(const front_end_module *module, front_end_position position)
{
#if FRONT_END_DIVISION == 1
    return front_end_refined(front_end_denominator(module, position), module->numerator);
/* AVR */#else
    return (uint16_t)((module->numerator[0] / (front_end_denominator(module, position) >> 1) + 1) >> 1);
#endif
}
