/* The value at a position in the window; 2^16 or more where it does not fit. */
FRONT_END_APART uint32_t front_end_slow_at(const uint16_t *digit, front_end_position position)
{
    const uint32_t d = ((uint32_t)position << (digit[0] >> 8)) + FRONT_END_WORD(digit + 10);
    return front_end_long_division(d, FRONT_END_WORD(digit + 12), digit[8]);
}

/* The same; in a quicker way where there is one. */
FRONT_END_WITHIN uint16_t front_end_calibrated_at(const front_end_module *module, front_end_position position)
{
    const uint16_t *digit = module->digit;
/* SHORT */#if FRONT_END_DIVISION == 0
    if (digit[13] == 0) {
        const uint32_t half = (((uint32_t)position << (digit[0] >> 8)) + FRONT_END_WORD(digit + 10)) >> 1;
        return (uint16_t)((FRONT_END_WORD(digit + 8) / half + 1) >> 1);
    }
#endif
    return (uint16_t)front_end_slow_at(digit, position);
/* END */}
