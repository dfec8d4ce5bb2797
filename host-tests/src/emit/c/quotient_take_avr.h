#ifdef FRONT_END_AVR
    digit[7] = step_log2 <= 8 && largest < FRONT_END_SHORT_END ? (uint16_t)(1u << (step_log2 - 1)) : 0;
#endif
