#if defined(__AVR__) && !defined(FRONT_END_PRODUCTS_16)
#define FRONT_END_PRODUCTS_16 /* positions and products of 16 bits, for 8-bit cores; the values are the same on any */
#endif
/* How far a count lies behind the first that is a voltage. */
#ifdef FRONT_END_PRODUCTS_16
typedef uint16_t front_end_position;
#define FRONT_END_TOO_WIDE(count) ((count) > UINT32_C(0xFFFF))
#else
typedef uint32_t front_end_position;
#define FRONT_END_TOO_WIDE(count) 0
#endif
