/* Takes M, B and S of a record where they fit every count: the sum is largest at the last one. */
static inline int front_end_take(const uint8_t *bytes, front_end_module *module, front_end_position counts)
{
    const front_end_position last = (front_end_position)(counts - 1u);
/* SHORT */
    if (bytes[1] != 32)
        return 0;
    module->factor[0] = front_end_half(bytes + 24);
    module->factor[1] = front_end_half(bytes + 16);
    module->factor[2] = front_end_half(bytes + 18);
    module->addend = front_end_word(bytes + 20) << 16 | front_end_half(bytes + 26);
    module->addend_top = front_end_half(bytes + 22);
    return front_end_calibrated_slow(module, last) >> 16 == 0;
}
