    if ((uint8_t)(step_log2 - 1) >= 28 || digit[13] != 0 || (digit[10] & 1) != 0 || digit[11] > 0x1FFF)
        return 0;
    digit[13] = digit[12];
    digit[12] = digit[9];
    for (i = step_log2; i > 0; i--)
        if ((largest <<= 1) >= end)
            return 0;
    largest += FRONT_END_WORD(digit + 10);
    if (largest >= end || front_end_slow_at(digit, 0) >> 16 != 0)
        return 0;
/* STEP */#if FRONT_END_DIVISION == 1
    module->raised[0] = FRONT_END_WORD(digit + 8);
    module->raised[1] = FRONT_END_WORD(digit + 10);
    module->raised[2] = FRONT_END_WORD(digit + 12) >> 8;
    for (module->raised[3] = step_log2; largest < UINT32_C(1) << 26; module->raised[3]++) {
        module->raised[2] = module->raised[2] << 1 | (module->raised[0] >> 23 & 1);
        module->raised[0] <<= 1;
        module->raised[1] <<= 1;
        largest <<= 1;
    }
    module->raised[3] &= 31; /* above only where the one position is 0 */
#endif
    return 1;
