/* 1: without assembly, whatever the core. The values are the same. */
#ifndef FRONT_END_PORTABLE
#define FRONT_END_PORTABLE 0
#endif
/* Assembly, as gcc reads it: for AVR with a multiplier, for AVR without one, and for Cortex-M0+. */
#if defined(__AVR_HAVE_LPMX__) && !defined(__clang__) && !FRONT_END_PORTABLE
#ifdef __AVR_HAVE_MUL__
#define FRONT_END_AVR
#else
#define FRONT_END_AVR_ADDS
#endif
#elif defined(__ARM_ARCH_6M__) && defined(__GNUC__) && !FRONT_END_PORTABLE
#define FRONT_END_CORTEX_M0
#endif
/* Apart: for what is rarely called, once in a program. Within: for what costs less than a call. */
#if defined(__GNUC__) && !defined(__clang__)
#define FRONT_END_APART static __attribute__((noinline, noclone, unused))
#define FRONT_END_WITHIN static inline __attribute__((always_inline))
#elif defined(__GNUC__)
#define FRONT_END_APART static __attribute__((noinline, unused))
#define FRONT_END_WITHIN static inline __attribute__((always_inline))
#else
#define FRONT_END_APART static inline
#define FRONT_END_WITHIN static inline
#endif
