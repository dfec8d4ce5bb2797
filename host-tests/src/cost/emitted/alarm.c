front_end_alarm call_front_end_state;
uint16_t call_front_end_alarm(count_type count, front_end_alarm *alarm)
{
    return (uint16_t)front_end_limit_name(alarm, count);
}
