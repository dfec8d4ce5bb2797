/* ---- a module's constants, derived at load ---- */

static inline void front_end_prepare(front_end_module *module, uint64_t h, uint8_t step_log2, uint32_t at_first)
{
#if FRONT_END_DIVISION != 0
    const uint32_t last = module->counts == 0 ? 0 : module->counts - 1;
    uint32_t e = ((last << step_log2) + at_first) << 1;
#endif
#if FRONT_END_DIVISION == 1
    step_log2++;
    at_first <<= 1;
    while (e < UINT32_C(0x4000000)) {
        e <<= 1;
        h <<= 1;
        step_log2++;
        at_first <<= 1;
    }
    module->numerator[1] = (uint32_t)(h >> 24);
    module->quick = module->counts;
#else
    module->numerator[1] = (uint32_t)(h >> 32);
#if FRONT_END_DIVISION == 2
    module->quick = step_log2 < 16 && e < FRONT_END_SHORT_END ? module->counts : 0;
    module->step = (uint16_t)(module->quick != 0 ? UINT32_C(1) << step_log2 : 0);
#else
    module->quick = module->numerator[1] == 0 ? module->counts : 0;
#endif
#endif
    module->numerator[0] = (uint32_t)h;
    module->step_log2 = step_log2;
    module->at_first = at_first;
}

/* Derives a module's constants from its stored gain (steps of 2^-24) and offset (steps of 1/256 single-sample count). Once at
 * load: it takes hundreds of times as long as a conversion. After a refusal every count is a fault. */
static inline front_end_refusal front_end_calibrate(uint32_t gain, int32_t offset, front_end_module *module)
{
    front_end_wide gained, denominator, quotient;
    int64_t centre, edge;
    uint64_t h;
    uint8_t step_log2 = FRONT_END_STEP_LOG2 + 8, common = 0;
    const front_end_refusal bounds = front_end_check_words(gain, offset);
    front_end_empty(module);
    if (bounds != FRONT_END_ACCEPTED)
        return bounds;

    /* The denominator's line in 1/256 half-steps, the common power of two taken out. */
    centre = FRONT_END_CENTRE_256 - FRONT_END_OFFSET_WEIGHT * (int64_t)offset;
    while (step_log2 > 0 && centre % 2 == 0) {
        centre /= 2;
        step_log2--;
        common++;
    }
    front_end_set(&gained, FRONT_END_FACTOR_NUMERATOR);
    front_end_multiply(&gained, gain);
    front_end_raise(&gained, 9);
    front_end_set(&denominator, FRONT_END_FACTOR_DENOMINATOR);
    front_end_raise(&denominator, (uint8_t)(24 + common));
    front_end_divide(&gained, &denominator, &quotient);
    h = front_end_lowest(&quotient);

    /* The value is at most 65535 while D is above H / 131071. */
    edge = (int64_t)(h / UINT32_C(131071)) + 1 - centre;
    module->first = 1;
    if (edge > 0) {
        edge = (edge + ((int64_t)1 << step_log2) - 1) >> step_log2;
        if (edge > 1)
            module->first = edge > (int64_t)FRONT_END_RAIL_COUNT ? FRONT_END_RAIL_COUNT : (uint32_t)edge;
    }
    module->counts = FRONT_END_RAIL_COUNT - module->first;
    front_end_prepare(module, h, step_log2,
                      module->counts == 0 ? 1 : (uint32_t)(((int64_t)module->first << step_log2) + centre));
    return FRONT_END_ACCEPTED;
}
