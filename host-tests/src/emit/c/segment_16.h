    uint16_t part;
    uint8_t entry;
#ifdef FRONT_END_AVR
    __asm__("mul %A[k], %[p]\n\tmovw %A[l], r0\n\tmul %B[k], %[p]\n\tmov %[e], r1\n\tclr r1\n\t"
            "add %B[l], r0\n\tadc %[e], r1"
            : [l] "=&r"(part), [e] "=&r"(entry) : [k] "r"((uint16_t)position), [p] "r"((uint8_t)/* TIMES */));
#else
    part = (uint16_t)/* RAISED */;
    entry = (uint8_t)((uint16_t)position >> /* STEP */);
#endif
