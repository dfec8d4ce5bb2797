    uint16_t raised;
#ifdef FRONT_END_AVR
    __asm__("mul %A[k], %[p]\n\tmovw %A[o], r0\n\tmul %B[k], %[p]\n\tadd %B[o], r0\n\tclr r1"
            : [o] "=&r"(raised) : [k] "r"((uint16_t)position), [p] "r"((uint8_t)/* TIMES */));
#else
    raised = (uint16_t)/* RAISED */;
#endif
