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
    uint64_t multiplier_high, addend_high;
    uint32_t multiplier_low, addend_low;
    uint8_t product, fine_shift;
} front_end_module;

/* Products 2 and 3, apart: the narrow ones should not pay for their registers. */
FRONT_END_APART uint16_t front_end_calibrated_wide(const front_end_module *module, uint32_t position)
{
    const uint64_t high_m = module->multiplier_high, high_b = module->addend_high;
    const uint32_t low_m = module->multiplier_low, low_b = module->addend_low;
    uint64_t whole, low;
    if (module->product == 2) {
        whole = ((high_m << 32) | low_m) * position + ((high_b << 32) | low_b);
        return (uint16_t)((whole >> 48) >> module->fine_shift);
    }
    low = (uint64_t)low_m * position + low_b;
    whole = high_m * position + high_b + (low >> 32);
    return (uint16_t)((whole >> 32) >> module->fine_shift);
}

/* The value at a position in the window. No step wraps: every whole is proven below its width, and what the low half of a
 * pair carries is part of that whole. */
static inline uint16_t front_end_calibrated_at(const front_end_module *module, uint32_t position)
{
    const uint32_t low_m = module->multiplier_low, low_b = module->addend_low;
    if (module->product == 0) {
#if FRONT_END_PRODUCTS_16
        return (uint16_t)(front_end_upper_of_32((uint16_t)position, low_m, low_b) >> module->fine_shift);
#else
        return (uint16_t)(((low_m * position + low_b) >> 16) >> module->fine_shift);
#endif
    }
    if (module->product == 1) {
        const uint32_t high_m = (uint32_t)module->multiplier_high, high_b = (uint32_t)module->addend_high;
#if FRONT_END_PRODUCTS_16
        return (uint16_t)(front_end_upper_of_48((uint16_t)position, high_m, (uint16_t)low_m, high_b, (uint16_t)low_b) >>
                          module->fine_shift);
#else
        return (uint16_t)(((high_m * position + high_b + ((low_m * position + low_b) >> 16)) >> 16) >> module->fine_shift);
#endif
    }
    return front_end_calibrated_wide(module, position);
}
