/* What is not quick, and faults, as fault * 2^16 + voltage. */
FRONT_END_APART uint32_t front_end_calibrated_apart(uint32_t count, const front_end_module *module)
{
    const front_end_position position = (front_end_position)(count - module->first);
    if (FRONT_END_TOO_WIDE(count) || position >= module->counts)
        return (uint32_t)front_end_fault_of(count, module->first) << 16;
    return (uint16_t)front_end_calibrated_slow(module, position);
}

/* The value at a position in the window. */
static inline uint16_t front_end_calibrated_at(const front_end_module *module, front_end_position position)
{
    if (module->quick != 0)
        return front_end_calibrated_quick(module, position);
    return (uint16_t)front_end_calibrated_slow(module, position);
}

/* The voltage of a count in output units, for the module that `module` was loaded for.
 * Range and faults as front_end_voltage. Rounding: to nearest, ties upward, of the module's constants; no error on top. */
static inline front_end_fault front_end_calibrated_voltage(const front_end_module *module, uint32_t count, uint16_t *voltage)
{
    const front_end_position position = (front_end_position)(count - module->first);
    if (FRONT_END_TOO_WIDE(count) || position >= module->quick) {
        const uint32_t answer = FRONT_END_ASIDE(front_end_calibrated_apart, count, module);
        const front_end_fault fault = (front_end_fault)(answer >> 16);
        if (fault == FRONT_END_NO_FAULT)
            *voltage = (uint16_t)answer;
        return fault;
    }
    *voltage = front_end_calibrated_quick(module, position);
    return FRONT_END_NO_FAULT;
}
