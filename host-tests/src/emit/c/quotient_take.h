    digit[13] = digit[12];
    digit[12] = digit[9];
    for (uint8_t i = step_log2; i > 0; i--)
        if ((largest <<= 1) >= UINT32_C(0x20000000))
            return 0;
    largest += FRONT_END_WORD(digit + 10);
    if (largest >= UINT32_C(0x20000000) || front_end_slow_at(digit, 0) >> 16 != 0)
        return 0;
/* STEP */    return 1;
