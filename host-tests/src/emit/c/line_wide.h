/* M times the position, and B, without the lowest 16 bits; 2^32 or more where the value does not fit. */
FRONT_END_APART uint64_t front_end_upper_sum(const uint16_t *digit, uint32_t position)
{
    const uint64_t low = (uint64_t)digit[12] * position + digit[13];
    return (uint64_t)FRONT_END_WORD(digit + 8) * position + FRONT_END_WORD(digit + 10) + (low >> 16);
}

/* The value at a position in the window. */
FRONT_END_WITHIN uint16_t front_end_calibrated_at(const front_end_module *module, front_end_position position)
{
    return (uint16_t)(front_end_upper_sum(module->digit, position) >> 16);
}
