/* The upper 16 bits of M * factor + B, which is below 2^32. */
FRONT_END_WITHIN uint16_t front_end_upper_of_32(uint16_t factor, uint32_t m, uint32_t b)
{
    const uint16_t high = (uint16_t)(1u * factor * (uint16_t)(m >> 16) + (b >> 16));
    return front_end_column(factor, (uint16_t)m, (uint16_t)b, high);
}
