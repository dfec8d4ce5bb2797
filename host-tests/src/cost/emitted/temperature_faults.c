uint32_t call_front_end_sensor(uint32_t count)
{
    int16_t tenths = 0;
    const uint32_t fault = (uint32_t)front_end_temperature(count, &tenths);
    return fault << 16 | (uint16_t)tenths;
}
