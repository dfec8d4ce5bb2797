/* ---- a module's constants, found and proven at load ---- */

/* Sum of floor((slope * k + intercept) / denominator) for k = 0 .. terms - 1, as Euclid's algorithm finds it. Every part
 * added is a part of the result, below 2^53; `terms` is at most 2^26, (terms + 1) * denominator below 2^127. */
static inline uint64_t front_end_floor_sum(uint32_t terms, front_end_wide slope, front_end_wide intercept, front_end_wide denominator)
{
    uint64_t sum = 0;
    while (terms > 0) {
        const uint64_t n = terms;
        front_end_wide reach;
        sum += front_end_lowest(front_end_divide(slope, denominator, &slope)) * (n * (n - 1) / 2);
        sum += front_end_lowest(front_end_divide(intercept, denominator, &intercept)) * n;
        reach = front_end_plus(front_end_times(slope, terms), intercept);
        terms = (uint32_t)front_end_lowest(front_end_divide(reach, denominator, &intercept));
        reach = slope;
        slope = denominator;
        denominator = reach;
    }
    return sum;
}

/* The largest shift that is looked at: products of 94 bits and the value's place. */
#define FRONT_END_SHIFT_MAX 78

/* ceil(numerator * 2^78 / denominator), for a quotient below 2^16. */
static inline front_end_wide front_end_scaled(front_end_wide numerator, front_end_wide denominator)
{
    front_end_wide rest, floor = front_end_divide(numerator, denominator, &rest);
    uint8_t i;
    for (i = 0; i < FRONT_END_SHIFT_MAX; i++) {
        floor = front_end_plus(floor, floor);
        rest = front_end_plus(rest, rest);
        if (!front_end_less(rest, denominator)) {
            rest = front_end_minus(rest, denominator);
            floor.word[0] = (uint16_t)(floor.word[0] | 1u);
        }
    }
    return front_end_length(rest) == 0 ? floor : front_end_plus(floor, front_end_wide_of(1));
}

/* What is scaled by 2^78 and rounded up, scaled by 2^shift and rounded up: rounding up twice is rounding up once. */
static inline front_end_wide front_end_at_shift(front_end_wide scaled, uint8_t shift)
{
    uint16_t dropped = 0;
    for (; shift < FRONT_END_SHIFT_MAX; shift++) {
        dropped = (uint16_t)(dropped | (scaled.word[0] & 1u));
        scaled = front_end_halved(scaled);
    }
    return front_end_plus(scaled, front_end_wide_of(dropped));
}

/* M and B of one search, scaled by 2^78, and the sum that the right ones have. */
typedef struct {
    front_end_wide multiplier, addend;
    uint32_t terms;
    uint64_t wanted;
} front_end_search;

/* Whether M and B at a shift are right at every position: none of their values lies below its counterpart, so they are
 * exactly when the sums are equal. */
static inline int front_end_is_exact(const front_end_search *search, uint8_t shift)
{
    return front_end_floor_sum(search->terms, front_end_at_shift(search->multiplier, shift), front_end_at_shift(search->addend, shift),
                               front_end_raised(front_end_wide_of(1), shift)) == search->wanted;
}

/* Whether every product at a shift is below 2^bits. */
static inline int front_end_fits(const front_end_search *search, uint8_t shift, uint8_t bits)
{
    return front_end_length(front_end_plus(front_end_times(front_end_at_shift(search->multiplier, shift), search->terms - 1),
                                           front_end_at_shift(search->addend, shift))) <= bits;
}

static inline void front_end_pack(front_end_module *module, const front_end_search *search, uint8_t product, uint8_t shift)
{
    const front_end_wide m = front_end_at_shift(search->multiplier, shift), b = front_end_at_shift(search->addend, shift);
    const uint8_t low_words = product == 1 ? 1 : 2;
    front_end_wide high_m = m, high_b = b;
    uint8_t i;
    for (i = 0; i < 16 * low_words; i++) {
        high_m = front_end_halved(high_m);
        high_b = front_end_halved(high_b);
    }
    module->multiplier_low = (uint32_t)(front_end_lowest(m) & (low_words == 1 ? UINT32_C(0xFFFF) : UINT32_C(0xFFFFFFFF)));
    module->addend_low = (uint32_t)(front_end_lowest(b) & (low_words == 1 ? UINT32_C(0xFFFF) : UINT32_C(0xFFFFFFFF)));
    module->multiplier_high = front_end_lowest(high_m);
    module->addend_high = front_end_lowest(high_b);
    module->product = product;
    module->fine_shift = (uint8_t)(shift - 16 * (product + 1));
}

/* Finds the narrowest product, and in it the smallest shift, that is right at every position of the window: floor((slope *
 * position + intercept) / denominator). A larger shift is never worse, so the largest that fits a product decides for it and
 * halving finds the smallest. Returns 0 when no product is right. */
static inline int front_end_prove(front_end_module *module, front_end_wide slope, front_end_wide intercept, front_end_wide denominator)
{
    front_end_search search;
    uint8_t product;
    if (module->counts <= 1) {
        /* One position: a constant. */
        front_end_wide rest;
        search.multiplier = front_end_wide_of(0);
        search.addend = front_end_raised(front_end_divide(intercept, denominator, &rest), FRONT_END_SHIFT_MAX);
        front_end_pack(module, &search, 0, 16);
        return 1;
    }
    search.multiplier = front_end_scaled(slope, denominator);
    search.addend = front_end_scaled(intercept, denominator);
    search.terms = module->counts;
    search.wanted = front_end_floor_sum(search.terms, slope, intercept, denominator);
    for (product = 0; product < 4; product++) {
        const uint8_t least = (uint8_t)(16 * (product + 1)), bits = (uint8_t)(product == 3 ? 96 : least + 16);
        uint8_t low = least, end = least;
        if (product == 1 && search.terms > UINT32_C(0x10000))
            continue;
        while (end < least + 16 && end <= FRONT_END_SHIFT_MAX && front_end_fits(&search, end, bits))
            end++;
        if (end == least || !front_end_is_exact(&search, (uint8_t)(end - 1)))
            continue;
        end--;
        while (low < end) {
            const uint8_t middle = (uint8_t)((low + end) / 2);
            if (front_end_is_exact(&search, middle))
                end = middle;
            else
                low = (uint8_t)(middle + 1);
        }
        front_end_pack(module, &search, product, end);
        return 1;
    }
    return 0;
}

/* Derives a module's constants from its stored gain (steps of 2^-24) and offset (steps of 1/256 single-sample count). Once at
 * load: it takes thousands of times as long as a conversion. After a refusal every count is a fault. */
static inline front_end_refusal front_end_calibrate(uint32_t gain, int32_t offset, front_end_module *module)
{
    front_end_wide gained, slope, denominator, half, moved, limit, rest, edge;
    int64_t centre;
    uint32_t end;
    const front_end_refusal bounds = front_end_check_words(gain, offset);
    module->first = FRONT_END_RAIL_COUNT;
    module->counts = 0;
    if (bounds != FRONT_END_ACCEPTED)
        return bounds;

    /* In output units: slope * count / denominator + 1/2 + gained * centre / denominator, the centre in 1/256 half-steps. */
    centre = FRONT_END_CENTRE_256 - FRONT_END_OFFSET_WEIGHT * (int64_t)offset;
    gained = front_end_times(front_end_wide_of(FRONT_END_FACTOR_NUMERATOR), gain);
    slope = front_end_raised(gained, FRONT_END_STEP_LOG2 + 8);
    denominator = front_end_raised(front_end_wide_of(FRONT_END_FACTOR_DENOMINATOR), 32);
    half = front_end_halved(denominator);
    moved = front_end_times(gained, (uint32_t)(centre < 0 ? -centre : centre));

    /* The window: from the first count whose value is not below 0 to the last whose value is below 65536. */
    module->first = 1;
    limit = front_end_minus(front_end_raised(denominator, 16), front_end_plus(half, front_end_wide_of(1)));
    if (centre < 0) {
        limit = front_end_plus(limit, moved);
        if (front_end_less(half, moved)) {
            edge = front_end_divide(front_end_minus(moved, half), slope, &rest);
            if (front_end_length(rest) != 0)
                edge = front_end_plus(edge, front_end_wide_of(1));
            /* At most |centre| / 2^9 + 1, below 2^32. */
            if (front_end_lowest(edge) > 1)
                module->first = (uint32_t)front_end_lowest(edge);
        }
        end = 1;
    } else if (front_end_less(limit, moved)) {
        end = 0;
    } else {
        limit = front_end_minus(limit, moved);
        end = 1;
    }
    if (end != 0) {
        edge = front_end_divide(limit, slope, &rest);
        end = front_end_less(edge, front_end_wide_of(FRONT_END_RAIL_COUNT)) ? (uint32_t)front_end_lowest(edge) + 1 : FRONT_END_RAIL_COUNT;
    }
    if (module->first > FRONT_END_RAIL_COUNT)
        module->first = FRONT_END_RAIL_COUNT;
    module->counts = end > module->first ? end - module->first : 0;

    edge = front_end_wide_of(0);
    if (module->counts != 0) {
        edge = front_end_plus(front_end_times(slope, module->first), half);
        edge = centre < 0 ? front_end_minus(edge, moved) : front_end_plus(edge, moved);
    }
    if (!front_end_prove(module, slope, edge, denominator)) {
        module->counts = 0;
        return FRONT_END_UNPROVEN;
    }
    return FRONT_END_ACCEPTED;
}
