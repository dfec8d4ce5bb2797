uint16_t call_front_end_temperature(count_type count)
{
    int16_t tenths;
    return front_end_temperature(count, &tenths) == FRONT_END_NO_FAULT ? (uint16_t)tenths : UINT16_C(0x8000);
}
