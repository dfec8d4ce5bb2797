#elif defined(FRONT_END_AVR)
    if (digit[7] != 0) {
        const uint8_t half_step = (uint8_t)digit[7];
        const front_end_half_denominator half = (front_end_half_denominator)(/* HALF */);
        return front_end_short_division(/* PRODUCT */, FRONT_END_WORD(digit + 8), digit[13]);
    }
