/* Assembly for AVR, as gcc reads it; none where FRONT_END_PORTABLE is defined. The values are the same. */
#if !defined(__AVR_HAVE_LPMX__) || defined(__clang__) || defined(FRONT_END_PORTABLE)
#elif defined(__AVR_HAVE_MUL__)
#define FRONT_END_AVR
#else
#define FRONT_END_AVR_ADDS
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
