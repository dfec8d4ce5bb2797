/* The constants of one module, derived once at load by front_end_calibrate: (M * position + B) >> S, in the narrower of
 * two products that is proven.
 *
 *   product 0  48 bits, a pair   M = high * 2^16 + low     S = 32    position below 2^16
 *   product 1  96 bits, a pair   M = high * 2^32 + low     S = 80
 */
typedef struct {
    uint32_t first;  /* first count that is a voltage */
    uint32_t counts; /* number of counts that are; 0 after a refusal, so that every count is a fault */
    uint32_t multiplier_low, multiplier_high, multiplier_top; /* high holds 64 bits as top * 2^32 + high */
    uint32_t addend_low, addend_high, addend_top;
    uint8_t product;
} front_end_module;

/* A module without a calibration: every count is a fault. */
static inline void front_end_empty(front_end_module *module)
{
    module->first = FRONT_END_RAIL_COUNT;
    module->counts = 0;
    module->multiplier_low = module->multiplier_high = module->multiplier_top = 0;
    module->addend_low = module->addend_high = module->addend_top = 0;
    module->product = 0;
}

/* The wider product apart from the narrow one, which should not pay for its registers. No step wraps: every whole is proven
 * below its width, and what a lower part carries is part of that whole. */
FRONT_END_APART uint16_t front_end_calibrated_wide(const front_end_module *module, front_end_position position)
{
    const uint32_t low_m = module->multiplier_low, low_b = module->addend_low;
    const uint32_t high_m = module->multiplier_high, high_b = module->addend_high;
    const uint32_t top_m = module->multiplier_top, top_b = module->addend_top;
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

/* The value at a position in the window. */
static inline uint16_t front_end_calibrated_at(const front_end_module *module, front_end_position position)
{
    const uint32_t low_m = module->multiplier_low, low_b = module->addend_low;
    const uint32_t high_m = module->multiplier_high, high_b = module->addend_high;
    if (module->product != 0)
        return front_end_calibrated_wide(module, position);
#if FRONT_END_PRODUCTS_16
    return front_end_upper_of_48(position, high_m, (uint16_t)low_m, high_b, (uint16_t)low_b);
#else
    return (uint16_t)((high_m * position + high_b + ((low_m * position + low_b) >> 16)) >> 16);
#endif
}
