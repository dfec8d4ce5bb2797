/* ---- a module's constants, found and proven at load ---- */

/* floor((slope * k + intercept) / denominator), for k = 0 .. terms - 1. */
typedef struct {
    front_end_wide slope, intercept, denominator;
    uint32_t terms;
} front_end_line;

/* Sum of a line's values, as Euclid's algorithm finds it; the line is used up. Every part added is a part of the result, below
 * 2^53; `terms` is at most 2^26, (terms + 1) * denominator below 2^127. */
static inline uint64_t front_end_floor_sum(front_end_line *line)
{
    uint64_t sum = 0;
    front_end_wide quotient, reach;
    while (line->terms > 0) {
        const uint64_t n = line->terms;
        front_end_divide(&line->slope, &line->denominator, &quotient);
        sum += front_end_lowest(&quotient) * (n * (n - 1) / 2);
        front_end_divide(&line->intercept, &line->denominator, &quotient);
        sum += front_end_lowest(&quotient) * n;
        reach = line->slope;
        front_end_multiply(&reach, line->terms);
        front_end_add(&reach, &line->intercept);
        front_end_divide(&reach, &line->denominator, &quotient);
        line->terms = (uint32_t)front_end_lowest(&quotient);
        line->intercept = reach;
        reach = line->slope;
        line->slope = line->denominator;
        line->denominator = reach;
    }
    return sum;
}

/* The largest shift that is looked at; 16 bits of value stand before it. */
#define FRONT_END_SHIFT_MAX 80

/* ceil(a * 2^80 / b), for a quotient below 2^16. */
static inline void front_end_scale(front_end_wide *a, const front_end_wide *b)
{
    front_end_wide quotient;
    uint8_t i;
    front_end_divide(a, b, &quotient);
    for (i = 0; i < FRONT_END_SHIFT_MAX; i++) {
        front_end_add(&quotient, &quotient);
        front_end_add(a, a);
        if (!front_end_less(a, b)) {
            front_end_subtract(a, b);
            front_end_add_one(&quotient);
        }
    }
    if (front_end_length(a) != 0)
        front_end_add_one(&quotient);
    *a = quotient;
}

/* M, B and the last position's value scaled by 2^80, the number of positions, and the sum that the right values have. */
typedef struct {
    front_end_wide multiplier, addend, last;
    uint32_t terms;
    uint64_t wanted;
} front_end_search;

/* M and B at a shift: rounding up twice is rounding up once. From the last position M is one less, and B so that this position's
 * value is rounded up: then no value lies below its counterpart, either. */
static inline void front_end_at_shift(const front_end_search *search, uint8_t shift, uint8_t from_last, front_end_line *line)
{
    const uint8_t places = (uint8_t)(FRONT_END_SHIFT_MAX - shift);
    line->slope = search->multiplier;
    if (front_end_lower(&line->slope, places))
        front_end_add_one(&line->slope);
    line->intercept = from_last ? search->last : search->addend;
    if (front_end_lower(&line->intercept, places))
        front_end_add_one(&line->intercept);
    if (from_last) {
        front_end_wide one;
        front_end_set(&one, front_end_length(&line->slope) != 0);
        front_end_subtract(&line->slope, &one);
        one = line->slope;
        front_end_multiply(&one, search->terms - 1);
        front_end_subtract(&line->intercept, &one);
    }
}

/* Whether M and B at a shift are right at every position. None of their values lies below its counterpart, so they are
 * exactly when the sums are equal. */
static inline int front_end_is_exact(const front_end_search *search, uint8_t shift, uint8_t from_last)
{
    front_end_line line;
    front_end_at_shift(search, shift, from_last, &line);
    front_end_set(&line.denominator, 1);
    front_end_raise(&line.denominator, shift);
    line.terms = search->terms;
    return front_end_floor_sum(&line) == search->wanted;
}

/* M and B of a shift, scaled to the product's own: 32 or FRONT_END_SHIFT_MAX. */
static inline void front_end_pack(front_end_module *module, const front_end_search *search, uint8_t shift, uint8_t from_last)
{
    const uint8_t narrow = shift <= 32;
    const uint8_t places = (uint8_t)((narrow ? 32 : FRONT_END_SHIFT_MAX) - shift), low_bits = narrow ? 16 : 32;
    const uint32_t low = narrow ? UINT32_C(0xFFFF) : UINT32_C(0xFFFFFFFF);
    front_end_line line;
    front_end_at_shift(search, shift, from_last, &line);
    front_end_raise(&line.slope, places);
    front_end_raise(&line.intercept, places);
    module->low = (uint32_t)front_end_lowest(&line.slope) & low;
    module->addend_low = (uint32_t)front_end_lowest(&line.intercept) & low;
    front_end_lower(&line.slope, low_bits);
    front_end_lower(&line.intercept, low_bits);
    module->high = (uint32_t)front_end_lowest(&line.slope);
    module->top = (uint32_t)(front_end_lowest(&line.slope) >> 32);
    module->addend_high = (uint32_t)front_end_lowest(&line.intercept);
    module->addend_top = (uint32_t)(front_end_lowest(&line.intercept) >> 32);
    module->quick = 0;
    if (narrow) {
        module->low |= module->addend_low << 16;
        module->quick = module->counts;
    }
}

/* Finds the least of four shifts that is right, from the first or from the last position, at every position of the window; the first three are for positions below 2^16.
 * Returns 0 when none is. `line` is used up. */
static inline int front_end_prove(front_end_module *module, front_end_line *line)
{
    front_end_search search;
    uint8_t i;
    line->terms = module->counts;
    search.terms = module->counts;
    search.addend = line->intercept;
    if (module->counts <= 1) {
        /* One position: a constant. */
        front_end_divide(&line->intercept, &line->denominator, &search.addend);
        front_end_raise(&search.addend, FRONT_END_SHIFT_MAX);
        front_end_set(&search.multiplier, 0);
        front_end_pack(module, &search, 16, 0);
        return 1;
    }
    search.multiplier = search.last = line->slope;
    front_end_multiply(&search.last, search.terms - 1);
    front_end_add(&search.last, &line->intercept);
    front_end_scale(&search.multiplier, &line->denominator);
    front_end_scale(&search.last, &line->denominator);
    front_end_scale(&search.addend, &line->denominator);
    search.wanted = front_end_floor_sum(line);
    for (i = search.terms > UINT32_C(0x10000) ? 3 : 0; i < 4; i++) {
        const uint8_t shift = (uint8_t)(i < 3 ? 16 + 8 * i : FRONT_END_SHIFT_MAX);
        uint8_t from_last;
        for (from_last = 0; from_last < 2; from_last++) {
            if (front_end_is_exact(&search, shift, from_last)) {
                front_end_pack(module, &search, shift, from_last);
                return 1;
            }
        }
    }
    return 0;
}

/* Derives a module's constants from its stored gain (steps of 2^-24) and offset (steps of 1/256 single-sample count). Once at
 * load: it takes thousands of times as long as a conversion. After a refusal every count is a fault. */
static inline front_end_refusal front_end_calibrate(uint32_t gain, int32_t offset, front_end_module *module)
{
    /* In output units a count stands for (slope * count + intercept) / denominator, rounded down. The intercept is half the
     * denominator, which makes it a rounding, and the centre's part, `moved`: added, or taken off for a negative centre. */
    const int64_t centre = FRONT_END_CENTRE_256 - FRONT_END_OFFSET_WEIGHT * (int64_t)offset;
    const front_end_refusal bounds = front_end_check_words(gain, offset);
    front_end_line line;
    front_end_wide half, moved, limit, edge;
    uint32_t end = 0;
    front_end_empty(module);
    if (bounds != FRONT_END_ACCEPTED)
        return bounds;
    front_end_set(&line.slope, FRONT_END_FACTOR_NUMERATOR);
    front_end_multiply(&line.slope, gain);
    moved = line.slope;
    front_end_multiply(&moved, (uint32_t)(centre < 0 ? -centre : centre));
    front_end_raise(&line.slope, FRONT_END_STEP_LOG2 + 8);
    front_end_set(&line.denominator, FRONT_END_FACTOR_DENOMINATOR);
    front_end_raise(&line.denominator, 31);
    half = line.denominator;
    front_end_raise(&line.denominator, 1);

    /* First count: the lowest whose value is not below 0. The quotient is at most |centre| / 2^9, below 2^32. */
    module->first = 1;
    if (centre < 0 && front_end_less(&half, &moved)) {
        limit = moved;
        front_end_subtract(&limit, &half);
        front_end_divide(&limit, &line.slope, &edge);
        if (front_end_length(&limit) != 0)
            front_end_add_one(&edge);
        if (front_end_lowest(&edge) > 1)
            module->first = front_end_lowest(&edge) < FRONT_END_RAIL_COUNT ? (uint32_t)front_end_lowest(&edge) : FRONT_END_RAIL_COUNT;
    }
    /* End: behind the last count whose value is below 65536, that is, whose part of the slope is below `limit`. */
    limit = line.denominator;
    front_end_raise(&limit, 16);
    front_end_subtract(&limit, &half);
    if (centre < 0)
        front_end_add(&limit, &moved);
    if (centre < 0 || front_end_less(&moved, &limit)) {
        if (centre >= 0)
            front_end_subtract(&limit, &moved);
        front_end_divide(&limit, &line.slope, &edge);
        if (front_end_length(&limit) != 0)
            front_end_add_one(&edge);
        front_end_set(&limit, FRONT_END_RAIL_COUNT);
        end = front_end_less(&edge, &limit) ? (uint32_t)front_end_lowest(&edge) : FRONT_END_RAIL_COUNT;
    }
    module->counts = end > module->first ? end - module->first : 0;

    /* The line over positions in the window. */
    front_end_set(&line.intercept, 0);
    if (module->counts != 0) {
        line.intercept = line.slope;
        front_end_multiply(&line.intercept, module->first);
        front_end_add(&line.intercept, &half);
        if (centre < 0)
            front_end_subtract(&line.intercept, &moved);
        else
            front_end_add(&line.intercept, &moved);
    }
    if (!front_end_prove(module, &line)) {
        module->counts = 0;
        return FRONT_END_UNPROVEN;
    }
    return FRONT_END_ACCEPTED;
}
