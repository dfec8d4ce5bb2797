/* The voltage of a count in output units, for the module that `module` was calibrated for.
 * Range, rounding and faults as front_end_voltage, of the formula with the stored gain and offset. */
static inline front_end_fault front_end_calibrated_voltage(const front_end_module *module, uint32_t count, uint16_t *voltage)
{
    const front_end_position position = (front_end_position)(count - module->first);
    if (FRONT_END_TOO_WIDE(count) || position >= (front_end_position)module->counts)
        return front_end_fault_of(count, module->first);
    *voltage = front_end_calibrated_at(module, position);
    return FRONT_END_NO_FAULT;
}
