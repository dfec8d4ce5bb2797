/* The constants of one module, derived once at load by front_end_calibrate: (M * position + B) >> S, in the narrowest of
 * four products that is proven.
 *
 *   product 0  32 bits           M = low                   S = 16 + fine_shift
 *   product 1  48 bits, a pair   M = high * 2^16 + low     S = 32 + fine_shift    position below 2^16
 *   product 2  64 bits           M = high * 2^32 + low     S = 48 + fine_shift
 *   product 3  96 bits, a pair   M = high * 2^32 + low     S = 64 + fine_shift
 */
typedef struct {
    uint32_t first;  /* first count that is a voltage */
    uint32_t counts; /* number of counts that are; 0 after a refusal, so that every count is a fault */
    uint32_t multiplier_low, multiplier_high, multiplier_top; /* high holds 64 bits as top * 2^32 + high */
    uint32_t addend_low, addend_high, addend_top;
    uint8_t product, fine_shift;
} front_end_module;

/* A module without a calibration: every count is a fault. */
static inline void front_end_empty(front_end_module *module)
{
    module->first = FRONT_END_RAIL_COUNT;
    module->counts = 0;
    module->multiplier_low = module->multiplier_high = module->multiplier_top = 0;
    module->addend_low = module->addend_high = module->addend_top = 0;
    module->product = module->fine_shift = 0;
}

/* Each wider product apart from the narrow one, which should not pay for their registers. No step wraps: every whole is proven
 * below its width, and what the low half of a pair carries is part of that whole. */
FRONT_END_APART uint16_t front_end_calibrated_pair(const front_end_module *module, front_end_position position)
{
    const uint32_t low_m = module->multiplier_low, low_b = module->addend_low;
    const uint32_t high_m = module->multiplier_high, high_b = module->addend_high;
#if FRONT_END_PRODUCTS_16
    return (uint16_t)(front_end_upper_of_48(position, high_m, (uint16_t)low_m, high_b, (uint16_t)low_b) >> module->fine_shift);
#else
    return (uint16_t)(((high_m * position + high_b + ((low_m * position + low_b) >> 16)) >> 16) >> module->fine_shift);
#endif
}

FRONT_END_APART uint16_t front_end_calibrated_wide(const front_end_module *module, front_end_position position)
{
    const uint32_t high_m = module->multiplier_high, high_b = module->addend_high;
    uint64_t whole = (uint64_t)module->multiplier_low * position + module->addend_low;
    if (module->product == 2) {
        /* The upper 32 of 64 bits. */
        const uint32_t upper = high_m * position + high_b + (uint32_t)(whole >> 32);
        return (uint16_t)((upper >> 16) >> module->fine_shift);
    }
    whole = (((uint64_t)module->multiplier_top << 32) | high_m) * position + (((uint64_t)module->addend_top << 32) | high_b) + (whole >> 32);
    return (uint16_t)((whole >> 32) >> module->fine_shift);
}

/* The value at a position in the window. */
static inline uint16_t front_end_calibrated_at(const front_end_module *module, front_end_position position)
{
    if (module->product == 1)
        return front_end_calibrated_pair(module, position);
    if (module->product != 0)
        return front_end_calibrated_wide(module, position);
#if FRONT_END_PRODUCTS_16
    return (uint16_t)(front_end_upper_of_32(position, module->multiplier_low, module->addend_low) >> module->fine_shift);
#else
    return (uint16_t)(((module->multiplier_low * position + module->addend_low) >> 16) >> module->fine_shift);
#endif
}
