    return digit[0] >> 8 == 32 && front_end_upper_sum(digit, last) >> 32 == 0;
