FRONT_END_WITHIN uint16_t front_end_calibrated_quick(const front_end_module *module, front_end_position position)
{
    return (uint16_t)front_end_calibrated_slow(module, position);
}
