/* What an image without a C library lacks and firmware has: copying, for the compiler's own use. */
#include <stddef.h>
void *memcpy(void *restrict to, const void *restrict from, size_t bytes);
void *memmove(void *to, const void *from, size_t bytes);
void *memset(void *to, int value, size_t bytes);
void *memcpy(void *restrict to, const void *restrict from, size_t bytes)
{
    volatile unsigned char *t = to;
    const unsigned char *f = from;
    while (bytes-- > 0)
        *t++ = *f++;
    return to;
}
/* Only whole equal objects are moved, or separate ones. */
void *memmove(void *to, const void *from, size_t bytes)
{
    return memcpy(to, from, bytes);
}
void *memset(void *to, int value, size_t bytes)
{
    volatile unsigned char *t = to;
    while (bytes-- > 0)
        *t++ = (unsigned char)value;
    return to;
}
