#elif FRONT_END_AVR
    module->half_step = (uint8_t)(1u << ((step_log2 - 1) & 7));
    module->quick = step_log2 <= 8 && largest < FRONT_END_SHORT_END ? counts : 0;
