/* The short form, below 2^32. */
FRONT_END_WITHIN uint16_t front_end_calibrated_quick(const front_end_module *module, front_end_position position)
{
#if FRONT_END_AVR
    uint32_t sum = module->addend;
    uint8_t zero;
    __asm__("clr %[zero]\n\t"
            "mul %A[k], %A[m]\n\tadd %A[s], r0\n\tadc %B[s], r1\n\tadc %C[s], %[zero]\n\tadc %D[s], %[zero]\n\t"
            "mul %B[k], %A[m]\n\tadd %B[s], r0\n\tadc %C[s], r1\n\tadc %D[s], %[zero]\n\t"
            "mul %A[k], %B[m]\n\tadd %B[s], r0\n\tadc %C[s], r1\n\tadc %D[s], %[zero]\n\t"
            "mul %B[k], %B[m]\n\tadd %C[s], r0\n\tadc %D[s], r1\n\t"
            "clr r1\n\t/* PLACES */"
            : [s] "+&r"(sum), [zero] "=&r"(zero)
            : [k] "r"((uint16_t)position), [m] "r"(module->factor[0]));
    return (uint16_t)(sum >> 16);
#else
    return (uint16_t)(((uint32_t)module->factor[0] * position + module->addend) >> FRONT_END_SHORT_SHIFT);
#endif
}
