/* The upper 16 bits of M * factor + B, which is below 2^48, for M and B as high * 2^16 + low. */
FRONT_END_WITHIN uint16_t front_end_upper_of_48(uint16_t factor, uint32_t high_m, uint16_t low_m, uint32_t high_b, uint16_t low_b)
{
    /* What the lowest column carries may exceed 16 bits together with the next addend: then one more is due above. */
    const uint16_t carried = front_end_column(factor, low_m, low_b, 0);
    const uint16_t middle_b = (uint16_t)((uint16_t)high_b + carried);
    const uint16_t top_b = (uint16_t)((high_b >> 16) + (middle_b < carried ? 1u : 0u));
    const uint16_t high = (uint16_t)(1u * factor * (uint16_t)(high_m >> 16) + top_b);
    return front_end_column(factor, (uint16_t)high_m, middle_b, high);
}
