/* 1: without assembly, whatever the core. The values are the same. */
#ifndef FRONT_END_PORTABLE
#define FRONT_END_PORTABLE 0
#endif

/* Assembly for AVR with a multiplier, as its gcc reads it, and for Cortex-M0+. */
#if defined(__AVR_HAVE_MUL__) && defined(__AVR_HAVE_LPMX__) && !defined(__clang__) && !FRONT_END_PORTABLE
#define FRONT_END_AVR 1
#else
#define FRONT_END_AVR 0
#endif
#if defined(__ARM_ARCH_6M__) && defined(__GNUC__) && !FRONT_END_PORTABLE
#define FRONT_END_CORTEX_M0 1
#else
#define FRONT_END_CORTEX_M0 0
#endif

/* Apart: for what is rarely called, out of the way of what often is. Within: for what costs less than a call. */
#if defined(__GNUC__)
#define FRONT_END_APART static __attribute__((noinline, unused))
#define FRONT_END_WITHIN static inline __attribute__((always_inline))
#else
#define FRONT_END_APART static inline
#define FRONT_END_WITHIN static inline
#endif

/* Aside: a rare call from what is otherwise a leaf. On Cortex-M0+ a function that calls saves its return address on its quick
 * ways, too; here the rare way does, itself. Eight bytes keep the stack aligned. */
#if FRONT_END_CORTEX_M0
FRONT_END_WITHIN uint32_t front_end_aside(uintptr_t function, uint32_t number, const void *data)
{
    register uint32_t r0 __asm__("r0") = number;
    register const void *r1 __asm__("r1") = data;
    register uintptr_t r2 __asm__("r2") = function;
    __asm__ volatile("push {r3, lr}\n\tblx r2\n\tpop {r2, r3}\n\tmov lr, r3"
                     : "+r"(r0), "+r"(r1), "+r"(r2)
                     :
                     : "r3", "r12", "cc", "memory");
    return r0;
}
#define FRONT_END_ASIDE(function, number, data) front_end_aside((uintptr_t)(function), number, data)
#else
#define FRONT_END_ASIDE(function, number, data) function(number, data)
#endif
