#if FRONT_END_AVR_ADDS && FRONT_END_PRODUCTS_16
/* M * p + B from the lowest bit of M on: p is added for a bit of 1, and the sum is halved for every bit. What falls away is what the floor
 * of the whole would drop, and with the carry no sum has more than 17 bits. */
#define FRONT_END_0 "lsr %B[v]\n\tror %A[v]\n\t"
#define FRONT_END_1 FRONT_END_PLUS "ror %B[v]\n\tror %A[v]\n\t"
/* Bits of M above the value's lowest: p is added as it stands, and doubled. */
#define FRONT_END_PLUS "add %A[v], %A[p]\n\tadc %B[v], %B[p]\n\t"
#define FRONT_END_TWICE "lsl %A[p]\n\trol %B[p]\n\t"
#endif
