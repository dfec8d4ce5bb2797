#if defined(FRONT_END_AVR) || FRONT_END_DIVISION == 1
    const uint_fast8_t half_step = (uint_fast8_t)digit[7];
    if (half_step == 0)
        return (uint16_t)front_end_slow_at(digit, position);
    return front_end_short_division((front_end_half)((front_end_half)position * half_step + digit[5]), module->word[4]/* HIGH */);
#else
