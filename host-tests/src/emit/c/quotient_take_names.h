    const uint32_t end = UINT32_C(1) << 29;
    const uint8_t step_log2 = (uint8_t)(digit[0] >> 8);
    uint32_t largest = last;
    uint8_t i;
