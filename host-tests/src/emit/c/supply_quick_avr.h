#elif FRONT_END_AVR
    const front_end_half_denominator half =
        (front_end_half_denominator)((front_end_half_denominator)position * module->half_step + (front_end_half_denominator)(module->at_first >> 1));
    return front_end_short_division(half, module->numerator[0], module->numerator[1]);
