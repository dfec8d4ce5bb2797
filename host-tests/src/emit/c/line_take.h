    if (digit[0] >> 8 == FRONT_END_SHORT_SHIFT) {
        const uint32_t sum = front_end_product(digit[8], last, FRONT_END_WORD(digit + 10));
        if ((uint16_t)(sum >> 16) < digit[11] || (sum >> FRONT_END_SHORT_SHIFT) >> 16 != 0)
            return 0;
        return (digit[9] | digit[12] | digit[13]) == 0;
    }
    return digit[0] >> 8 == 32 && front_end_long_value(digit, last) >> 16 == 0;
