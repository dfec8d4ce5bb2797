uint16_t call_front_end_voltage(count_type count)
{
    uint16_t voltage;
    return front_end_voltage(count, &voltage) == FRONT_END_NO_FAULT ? voltage : UINT16_MAX;
}

front_end_module call_front_end_module;
uint8_t call_front_end_record[32];
uint8_t call_front_end_load(front_end_module *module, const uint8_t *record)
{
    return (uint8_t)front_end_load(record, module);
}

uint16_t call_front_end_calibrated(count_type count, const front_end_module *module)
{
    uint16_t voltage;
    return front_end_calibrated_voltage(module, count, &voltage) == FRONT_END_NO_FAULT ? voltage : UINT16_MAX;
}
