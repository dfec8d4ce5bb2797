#if FRONT_END_DIVISION == 1
/* round(2^13 / (2 i + 1)) for i = 16 .. 127: 2^33 over the middle of an interval of E. */
static const uint8_t front_end_seeds[112] = {
    /* SEEDS */
};

/* With H as its lower 32 bits and floor(H / 2^24), for E from 2^24 to below 2^27: a seed of five bits and two refinements,
 * each rounded down, so that no estimate exceeds the quotient. */
FRONT_END_WITHIN uint16_t front_end_refined_from(uint32_t seed, uint32_t e, const uint32_t *numerator)
{
#ifdef FRONT_END_CORTEX_M0
    /* The same in four registers and r12. */
    uint32_t t;
    __asm__(".syntax unified\n\t"
            "lsrs %[t], %[e], #1\n\tmuls %[t], %[s], %[t]\n\trsbs %[t], %[t], #0\n\tlsrs %[t], %[t], #15\n\t"
            "muls %[s], %[t], %[s]\n\tlsrs %[s], %[s], #8\n\tldr %[t], [%[n], #8]\n\tldr %[n], [%[n], #0]\n\t"
            "muls %[t], %[s], %[t]\n\tlsrs %[t], %[t], #16\n\tmov r12, %[t]\n\tmuls %[t], %[e], %[t]\n\t"
            "subs %[n], %[n], %[t]\n\tlsrs %[t], %[n], #16\n\tmuls %[t], %[s], %[t]\n\tlsrs %[t], %[t], #24\n\t"
            "movs %[s], %[t]\n\tmuls %[s], %[e], %[s]\n\tsubs %[n], %[n], %[s]\n\t"
            /* A move from a high register leaves the carry of the comparison. */
            "lsrs %[e], %[e], #1\n\tcmp %[n], %[e]\n\tmov %[e], r12\n\tadcs %[e], %[e], %[t]"
            : [e] "+l"(e), [s] "+l"(seed), [n] "+l"(numerator), [t] "=&l"(t)
            : "m"(*(const uint32_t(*)[3])numerator) : "r12", "cc");
    return (uint16_t)e;
#else
    const uint32_t half = e >> 1;
    const uint32_t reciprocal = (seed * ((0 - half * seed) >> 15)) >> 8; /* 0 to 1 part in 1000 below 2^40 / E */
    const uint32_t first = (numerator[2] * reciprocal) >> 16;            /* at most H / E */
    uint32_t rest = numerator[0] - first * e;                            /* H - first * E, exactly: below 2^32 */
    const uint32_t second = ((rest >> 16) * reciprocal) >> 24;           /* what is missing, less than 1.08 too little */
    rest -= second * e;
    return (uint16_t)(first + second + (rest >= half ? 1 : 0));
#endif
}

/* E below 2^24 is raised, with H; E of 2^27 or more is divided bit by bit. */
FRONT_END_APART uint32_t front_end_refined_rarely(uint32_t e, const uint32_t *numerator)
{
    uint32_t raised[3];
    raised[0] = numerator[0];
    raised[2] = numerator[2];
    while (e < UINT32_C(0x1000000)) {
        e <<= 3;
        raised[2] = (raised[2] << 3) | ((raised[0] >> 21) & 7);
        raised[0] <<= 3;
    }
    if (e >= UINT32_C(0x8000000))
        return front_end_long_division(e, raised[2] << 8 | (raised[0] >> 16 & 0xFF), (uint16_t)raised[0]);
    return front_end_refined_from(front_end_seeds[(e >> 20) - 16], e, raised);
}

/* On Cortex-M0+ a function that calls saves its return address on its quick ways, too; here the rare way does, itself,
 * and what is otherwise a leaf stays one. Eight bytes keep the stack aligned. */
FRONT_END_WITHIN uint16_t front_end_refined(uint32_t e, const uint32_t *numerator)
{
    const uint32_t place = (e >> 20) - 16;
    if (place >= sizeof front_end_seeds) {
#ifdef FRONT_END_CORTEX_M0
        register uint32_t r0 __asm__("r0") = e;
        register const void *r1 __asm__("r1") = numerator;
        register uintptr_t r2 __asm__("r2") = (uintptr_t)front_end_refined_rarely;
        __asm__ volatile("push {r3, lr}\n\tblx r2\n\tpop {r2, r3}\n\tmov lr, r3"
                         : "+r"(r0), "+r"(r1), "+r"(r2) : : "r3", "r12", "cc", "memory");
        return (uint16_t)r0;
#else
        return (uint16_t)front_end_refined_rarely(e, numerator);
#endif
    }
    return front_end_refined_from(front_end_seeds[place], e, numerator);
}
#endif
