/* ---- whole numbers of 128 bits, for deriving a module's constants; not used by any conversion ---- */

/* Eight words of 16 bits, lowest first. Results replace the first operand. */
typedef struct {
    uint16_t word[8];
} front_end_wide;

static inline void front_end_set(front_end_wide *a, uint64_t value)
{
    uint8_t i;
    for (i = 0; i < 8; i++) {
        a->word[i] = (uint16_t)value;
        value >>= 16;
    }
}

/* The lowest 64 bits. */
static inline uint64_t front_end_lowest(const front_end_wide *a)
{
    uint64_t value = 0;
    uint8_t i;
    for (i = 4; i > 0; i--)
        value = (value << 16) | a->word[i - 1];
    return value;
}

/* Length in bits: 0 for 0. */
static inline uint8_t front_end_length(const front_end_wide *a)
{
    uint8_t i = 8, bits;
    uint16_t top;
    while (i > 0 && a->word[i - 1] == 0)
        i--;
    if (i == 0)
        return 0;
    bits = (uint8_t)(16 * (i - 1));
    for (top = a->word[i - 1]; top != 0; top = (uint16_t)(top >> 1))
        bits++;
    return bits;
}

static inline int front_end_less(const front_end_wide *a, const front_end_wide *b)
{
    uint8_t i = 7;
    while (i > 0 && a->word[i] == b->word[i])
        i--;
    return a->word[i] < b->word[i];
}

/* a + b; a and b may be the same. */
static inline void front_end_add(front_end_wide *a, const front_end_wide *b)
{
    uint32_t carry = 0;
    uint8_t i;
    for (i = 0; i < 8; i++) {
        carry += (uint32_t)a->word[i] + b->word[i];
        a->word[i] = (uint16_t)carry;
        carry >>= 16;
    }
}

static inline void front_end_add_one(front_end_wide *a)
{
    uint8_t i = 0;
    do {
        a->word[i] = (uint16_t)(a->word[i] + 1u);
    } while (a->word[i++] == 0 && i < 8);
}

/* a - b, for b at most a. */
static inline void front_end_subtract(front_end_wide *a, const front_end_wide *b)
{
    uint32_t borrow = 0;
    uint8_t i;
    for (i = 0; i < 8; i++) {
        const uint32_t word = (uint32_t)a->word[i] - b->word[i] - borrow;
        a->word[i] = (uint16_t)word;
        borrow = (word >> 16) & 1;
    }
}

/* a * 2^places. */
static inline void front_end_raise(front_end_wide *a, uint8_t places)
{
    for (; places > 0; places--)
        front_end_add(a, a);
}

/* floor(a / 2^places); whether anything was dropped. */
static inline int front_end_lower(front_end_wide *a, uint8_t places)
{
    uint16_t dropped = 0;
    for (; places >= 16; places = (uint8_t)(places - 16)) {
        uint8_t i;
        dropped = (uint16_t)(dropped | a->word[0]);
        for (i = 0; i < 7; i++)
            a->word[i] = a->word[i + 1];
        a->word[7] = 0;
    }
    for (; places > 0; places--) {
        uint16_t carry = 0;
        uint8_t i;
        for (i = 8; i > 0; i--) {
            const uint16_t word = a->word[i - 1];
            a->word[i - 1] = (uint16_t)((word >> 1) | carry);
            carry = (uint16_t)((word & 1u) << 15);
        }
        dropped = (uint16_t)(dropped | carry);
    }
    return dropped != 0;
}

/* a * factor, a bit of the factor at a time. */
static inline void front_end_multiply(front_end_wide *a, uint32_t factor)
{
    front_end_wide part = *a;
    front_end_set(a, 0);
    for (; factor != 0; factor >>= 1) {
        if ((factor & 1) != 0)
            front_end_add(a, &part);
        front_end_add(&part, &part);
    }
}

/* floor(a / b) into `quotient`, for b above 0; the rest stays in a. A bit of the quotient each round, as on paper. */
static inline void front_end_divide(front_end_wide *a, const front_end_wide *b, front_end_wide *quotient)
{
    front_end_wide part = *b;
    const uint8_t long_a = front_end_length(a), long_b = front_end_length(b);
    uint8_t rounds = (uint8_t)(long_a > long_b ? long_a - long_b : 0);
    front_end_set(quotient, 0);
    front_end_raise(&part, rounds);
    do {
        front_end_add(quotient, quotient);
        if (!front_end_less(a, &part)) {
            front_end_subtract(a, &part);
            front_end_add_one(quotient);
        }
        front_end_lower(&part, 1);
    } while (rounds-- > 0);
}
