#if defined(FRONT_END_AVR) || FRONT_END_DIVISION == 1
    digit[5] = (uint16_t)(digit[10] >> 1); /* here and in 7 nothing is left: no count has more than 16 bits */
    digit[7] = step_log2 <= 8 && largest < UINT32_C(/* END */)/* SUM */ ? (uint16_t)(1u << (step_log2 - 1)) : 0;
#endif
