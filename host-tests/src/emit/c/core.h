/* 1: without assembly, whatever the core. The values are the same. */
#ifndef FRONT_END_PORTABLE
#define FRONT_END_PORTABLE 0
#endif

/* Assembly for AVR with a multiplier, as its gcc reads it, and for AVR without one. */
#if defined(__AVR_HAVE_MUL__) && defined(__AVR_HAVE_LPMX__) && !defined(__clang__) && !FRONT_END_PORTABLE
#define FRONT_END_AVR 1
#else
#define FRONT_END_AVR 0
#endif
#if defined(__AVR_HAVE_LPMX__) && !defined(__AVR_HAVE_MUL__) && !defined(__clang__) && !FRONT_END_PORTABLE
#define FRONT_END_AVR_ADDS 1
#else
#define FRONT_END_AVR_ADDS 0
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
/* Small: apart where there is no multiplier, and so little flash. */
#if defined(__AVR__) && !defined(__AVR_HAVE_MUL__)
#define FRONT_END_SMALL FRONT_END_APART
#else
#define FRONT_END_SMALL FRONT_END_WITHIN
#endif
