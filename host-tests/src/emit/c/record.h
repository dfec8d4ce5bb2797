/* Bytes of a calibration record, layout 2. */
#define FRONT_END_RECORD_BYTES 32

static inline uint16_t front_end_half(const uint8_t *bytes)
{
    return (uint16_t)(bytes[0] | (uint16_t)bytes[1] << 8);
}

static inline uint32_t front_end_word(const uint8_t *bytes)
{
    return (uint32_t)bytes[0] | (uint32_t)bytes[1] << 8 | (uint32_t)bytes[2] << 16 | (uint32_t)bytes[3] << 24;
}

/* Whether a record is newer than another: its sequence number is 1 to 2^15 - 1 steps ahead, modulo 2^16. */
static inline int front_end_record_is_newer(const uint8_t *bytes, const uint8_t *other)
{
    const uint16_t ahead = (uint16_t)(front_end_half(bytes + 2) - front_end_half(other + 2));
    return ahead != 0 && ahead < 0x8000;
}

/* Whether bytes are a record of this front end, and its counts lie below the rail. */
static inline front_end_refusal front_end_record_check(const uint8_t *bytes)
{
    const uint32_t first = front_end_word(bytes + 8), counts = front_end_word(bytes + 12);
    uint32_t crc = UINT32_C(0xFFFFFFFF);
    uint8_t all_ones = 0xFF, all_zeros = 0, i, bit;
    /* CRC-32C (Castagnoli), bit by bit. Over a record and its own CRC it always leaves the same remainder. */
    for (i = 0; i < FRONT_END_RECORD_BYTES; i++) {
        all_ones = (uint8_t)(all_ones & bytes[i]);
        all_zeros = (uint8_t)(all_zeros | bytes[i]);
        crc ^= bytes[i];
        for (bit = 0; bit < 8; bit++)
            crc = (crc >> 1) ^ ((crc & 1) != 0 ? UINT32_C(0x82F63B78) : 0);
    }
    if (all_ones == 0xFF || all_zeros == 0)
        return FRONT_END_BLANK;
    if ((bytes[0] & 0xF0) != 0xB0)
        return FRONT_END_NOT_A_RECORD;
    if (bytes[0] != 0xB2)
        return FRONT_END_OTHER_VERSION;
    if (crc != UINT32_C(0xB798B438))
        return FRONT_END_DAMAGED;
    if (front_end_word(bytes + 4) != FRONT_END_FINGERPRINT)
        return FRONT_END_MADE_FOR_ANOTHER;
    if (first == 0 || first >= FRONT_END_RAIL_COUNT || counts == 0 || counts > FRONT_END_RAIL_COUNT - first)
        return FRONT_END_CONSTANTS;
    return FRONT_END_ACCEPTED;
}

/* TAKE */

/* A stored record to a module's constants, once at start. After a refusal every count is a fault of the module; go on with
 * front_end_voltage then, and say so. */
static inline front_end_refusal front_end_load(const uint8_t *bytes, front_end_module *module)
{
    const front_end_refusal refusal = front_end_record_check(bytes);
    const front_end_position counts = (front_end_position)front_end_word(bytes + 12);
    module->first = FRONT_END_RAIL_COUNT;
    module->quick = module->counts = 0;
    if (refusal != FRONT_END_ACCEPTED)
        return refusal;
    if (!front_end_take(bytes, module, counts))
        return FRONT_END_CONSTANTS;
    module->first = (front_end_position)front_end_word(bytes + 8);
    module->counts = counts;
    return FRONT_END_ACCEPTED;
}
