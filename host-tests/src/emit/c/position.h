/* 1: positions and products are of 16 bits, for 8-bit cores. The values are the same. */
#ifndef FRONT_END_PRODUCTS_16
#ifdef __AVR__
#define FRONT_END_PRODUCTS_16 1
#else
#define FRONT_END_PRODUCTS_16 0
#endif
#endif
/* How far a count lies behind the first that is a voltage. */
#if FRONT_END_PRODUCTS_16
typedef uint16_t front_end_position;
#define FRONT_END_TOO_WIDE(count) ((count) > UINT32_C(0xFFFF))
#else
typedef uint32_t front_end_position;
#define FRONT_END_TOO_WIDE(count) 0
#endif
