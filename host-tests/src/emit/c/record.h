/* ---- the calibration record: 24 bytes, little-endian ----
 *
 *    0  3 bytes  'T' 'v' 'C'
 *    3  1        version of the layout, 1
 *    4  4        fingerprint of the front end, FRONT_END_FINGERPRINT
 *    8  4        gain in steps of 2^-24
 *   12  4        offset in steps of 1/256 single-sample count, two's complement
 *   16  4        sequence number, counts up with every record of a module
 *   20  4        CRC-32C of bytes 0 to 19
 */
#define FRONT_END_RECORD_BYTES 24

typedef struct {
    uint32_t gain;
    int32_t offset;
    uint32_t sequence;
} front_end_record;

/* CRC-32C (Castagnoli), bit by bit: slow, and without a table. */
static inline uint32_t front_end_crc(const uint8_t *bytes, uint8_t length)
{
    uint32_t crc = UINT32_C(0xFFFFFFFF);
    uint8_t i, bit;
    for (i = 0; i < length; i++) {
        crc ^= bytes[i];
        for (bit = 0; bit < 8; bit++)
            crc = (crc >> 1) ^ ((crc & 1) != 0 ? UINT32_C(0x82F63B78) : 0);
    }
    return ~crc;
}

static inline uint32_t front_end_word(const uint8_t *bytes)
{
    return (uint32_t)bytes[0] | (uint32_t)bytes[1] << 8 | (uint32_t)bytes[2] << 16 | (uint32_t)bytes[3] << 24;
}

static inline void front_end_put_word(uint8_t *bytes, uint32_t word)
{
    uint8_t i;
    for (i = 0; i < 4; i++)
        bytes[i] = (uint8_t)(word >> (8 * i));
}

/* Reads a record of FRONT_END_RECORD_BYTES bytes made for this front end. `record` is written only when it is accepted. */
static inline front_end_refusal front_end_record_decode(const uint8_t *bytes, front_end_record *record)
{
    uint8_t all_ones = 0xFF, all_zeros = 0, i;
    uint32_t gain, word;
    int32_t offset;
    front_end_refusal words;
    for (i = 0; i < FRONT_END_RECORD_BYTES; i++) {
        all_ones = (uint8_t)(all_ones & bytes[i]);
        all_zeros = (uint8_t)(all_zeros | bytes[i]);
    }
    if (all_ones == 0xFF || all_zeros == 0)
        return FRONT_END_BLANK;
    if (bytes[0] != 'T' || bytes[1] != 'v' || bytes[2] != 'C')
        return FRONT_END_NOT_A_RECORD;
    if (bytes[3] != 1)
        return FRONT_END_OTHER_VERSION;
    if (front_end_word(bytes + 20) != front_end_crc(bytes, 20))
        return FRONT_END_DAMAGED;
    if (front_end_word(bytes + 4) != FRONT_END_FINGERPRINT)
        return FRONT_END_MADE_FOR_ANOTHER;
    gain = front_end_word(bytes + 8);
    word = front_end_word(bytes + 12);
    offset = (word & UINT32_C(0x80000000)) != 0 ? -(int32_t)~word - 1 : (int32_t)word;
    words = front_end_check_words(gain, offset);
    if (words != FRONT_END_ACCEPTED)
        return words;
    record->gain = gain;
    record->offset = offset;
    record->sequence = front_end_word(bytes + 16);
    return FRONT_END_ACCEPTED;
}

/* Writes a record as FRONT_END_RECORD_BYTES bytes. */
static inline void front_end_record_encode(const front_end_record *record, uint8_t *bytes)
{
    bytes[0] = 'T';
    bytes[1] = 'v';
    bytes[2] = 'C';
    bytes[3] = 1;
    front_end_put_word(bytes + 4, FRONT_END_FINGERPRINT);
    front_end_put_word(bytes + 8, record->gain);
    front_end_put_word(bytes + 12, (uint32_t)record->offset);
    front_end_put_word(bytes + 16, record->sequence);
    front_end_put_word(bytes + 20, front_end_crc(bytes, 20));
}

/* Whether a record is newer than another: its sequence number is 1 to 2^31 - 1 steps ahead, modulo 2^32. */
static inline int front_end_record_is_newer(const front_end_record *record, const front_end_record *other)
{
    const uint32_t ahead = record->sequence - other->sequence;
    return ahead != 0 && ahead < UINT32_C(0x80000000);
}

/* A stored record to a module's constants: decode, then calibrate. After a refusal every count is a fault. */
static inline front_end_refusal front_end_load(const uint8_t *bytes, front_end_module *module)
{
    front_end_record record;
    const front_end_refusal refusal = front_end_record_decode(bytes, &record);
    front_end_empty(module);
    return refusal == FRONT_END_ACCEPTED ? front_end_calibrate(record.gain, record.offset, module) : refusal;
}
