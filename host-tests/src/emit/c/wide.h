/* ---- whole numbers of 128 bits, for deriving a module's constants; not used by any conversion ---- */

/* Eight words of 16 bits, lowest first. */
typedef struct {
    uint16_t word[8];
} front_end_wide;

static inline front_end_wide front_end_wide_of(uint64_t value)
{
    front_end_wide a;
    uint8_t i;
    for (i = 0; i < 8; i++) {
        a.word[i] = (uint16_t)value;
        value >>= 16;
    }
    return a;
}

/* The lowest 64 bits. */
static inline uint64_t front_end_lowest(front_end_wide a)
{
    uint64_t value = 0;
    uint8_t i;
    for (i = 4; i > 0; i--)
        value = (value << 16) | a.word[i - 1];
    return value;
}

/* Length in bits: 0 for 0. */
static inline uint8_t front_end_length(front_end_wide a)
{
    uint8_t i = 8, bits = 0;
    uint16_t top;
    while (i > 0 && a.word[i - 1] == 0)
        i--;
    if (i == 0)
        return 0;
    for (top = a.word[i - 1]; top != 0; top = (uint16_t)(top >> 1))
        bits++;
    return (uint8_t)(16 * (i - 1) + bits);
}

static inline int front_end_less(front_end_wide a, front_end_wide b)
{
    uint8_t i = 8;
    while (i > 1 && a.word[i - 1] == b.word[i - 1])
        i--;
    return a.word[i - 1] < b.word[i - 1];
}

static inline front_end_wide front_end_plus(front_end_wide a, front_end_wide b)
{
    uint32_t carry = 0;
    uint8_t i;
    for (i = 0; i < 8; i++) {
        carry += (uint32_t)a.word[i] + b.word[i];
        a.word[i] = (uint16_t)carry;
        carry >>= 16;
    }
    return a;
}

/* a - b, for b at most a. */
static inline front_end_wide front_end_minus(front_end_wide a, front_end_wide b)
{
    uint32_t borrow = 0;
    uint8_t i;
    for (i = 0; i < 8; i++) {
        const uint32_t word = (uint32_t)a.word[i] - b.word[i] - borrow;
        a.word[i] = (uint16_t)word;
        borrow = (word >> 16) & 1;
    }
    return a;
}

static inline front_end_wide front_end_times(front_end_wide a, uint32_t factor)
{
    uint64_t carry = 0;
    uint8_t i;
    for (i = 0; i < 8; i++) {
        carry += (uint64_t)a.word[i] * factor;
        a.word[i] = (uint16_t)carry;
        carry >>= 16;
    }
    return a;
}

/* a * 2^places. */
static inline front_end_wide front_end_raised(front_end_wide a, uint8_t places)
{
    while (places-- > 0)
        a = front_end_plus(a, a);
    return a;
}

/* floor(a / 2). */
static inline front_end_wide front_end_halved(front_end_wide a)
{
    uint8_t i;
    for (i = 0; i < 8; i++)
        a.word[i] = (uint16_t)((a.word[i] >> 1) | (i < 7 ? (uint32_t)a.word[i + 1] << 15 : 0));
    return a;
}

/* floor(a / b) for b above 0; `rest` takes the remainder. A bit of the quotient each round, as on paper. */
static inline front_end_wide front_end_divide(front_end_wide a, front_end_wide b, front_end_wide *rest)
{
    front_end_wide quotient = front_end_wide_of(0);
    const uint8_t long_a = front_end_length(a), long_b = front_end_length(b);
    uint8_t rounds = (uint8_t)(long_a > long_b ? long_a - long_b : 0);
    b = front_end_raised(b, rounds);
    do {
        quotient = front_end_plus(quotient, quotient);
        if (!front_end_less(a, b)) {
            a = front_end_minus(a, b);
            quotient.word[0] = (uint16_t)(quotient.word[0] | 1u);
        }
        b = front_end_halved(b);
    } while (rounds-- > 0);
    *rest = a;
    return quotient;
}
