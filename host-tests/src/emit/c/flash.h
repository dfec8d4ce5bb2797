#if defined(FRONT_END_AVR) || defined(FRONT_END_AVR_ADDS)
#define FRONT_END_IN_FLASH __attribute__((__progmem__)) /* the compiler would copy it to RAM */
FRONT_END_WITHIN void front_end_entries(const int16_t *entry, int16_t *from, int16_t *to)
{
    __asm__("lpm %A[from], Z+\n\tlpm %B[from], Z+\n\tlpm %A[to], Z+\n\tlpm %B[to], Z"
            : [from] "=&r"(*from), [to] "=&r"(*to), [entry] "+z"(entry));
}
#else
#define FRONT_END_IN_FLASH
FRONT_END_WITHIN void front_end_entries(const int16_t *entry, int16_t *from, int16_t *to)
{
    *from = entry[0];
    *to = entry[1];
}
#endif
