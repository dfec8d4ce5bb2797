uint16_t call_front_end_voltage(count_type count)
{
    uint16_t voltage;
    return front_end_voltage(count, &voltage) == FRONT_END_NO_FAULT ? voltage : UINT16_MAX;
}

front_end_module call_front_end_module;
uint16_t call_front_end_calibrate(uint32_t gain, front_end_module *module)
{
    return (uint16_t)front_end_calibrate(gain, INT32_C(offset_word), module);
}

uint16_t call_front_end_calibrated(count_type count, const front_end_module *module)
{
    uint16_t voltage;
    return front_end_calibrated_voltage(module, count, &voltage) == FRONT_END_NO_FAULT ? voltage : UINT16_MAX;
}
