uint32_t call_front_end_outcome(uint32_t count)
{
    uint16_t voltage = 0;
    const uint32_t fault = (uint32_t)front_end_voltage(count, &voltage);
    return fault << 16 | voltage;
}
