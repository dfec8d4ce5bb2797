/* Takes K, t and D of a record where they fit every count: D is largest at the last one, the voltage at the first. */
static inline int front_end_take(const uint8_t *bytes, front_end_module *module, front_end_position counts)
{
    const uint8_t step_log2 = bytes[1];
    const uint32_t end = UINT32_C(1) << 29, at_first = front_end_word(bytes + 20);
    const uint32_t low = front_end_word(bytes + 16), high = front_end_half(bytes + 24);
    uint32_t largest;
    if (step_log2 == 0 || step_log2 > 28 || (at_first & 1) != 0 || at_first >= end || high >> 14 != 0 || front_end_half(bytes + 26) != 0)
        return 0;
    if (front_end_rest(at_first, low, high) >= at_first || counts - 1u >= end >> step_log2)
        return 0;
    largest = ((uint32_t)(counts - 1u) << step_log2) + at_first;
    if (largest >= end)
        return 0;
    module->at_first = at_first;
    module->numerator[0] = low;
    module->numerator[1] = high;
    module->step_log2 = step_log2;
#if FRONT_END_DIVISION == 1
    module->numerator[1] = high << 8 | low >> 24;
    for (; largest < UINT32_C(1) << 26; largest <<= 1) {
        module->numerator[1] = module->numerator[1] << 1 | ((module->numerator[0] >> 23) & 1);
        module->numerator[0] <<= 1;
        module->at_first <<= 1;
        module->step_log2++;
    }
    module->quick = counts;
/* AVR */#elif FRONT_END_DIVISION == 0
    module->quick = high == 0 ? counts : 0;
#endif
    return 1;
}
