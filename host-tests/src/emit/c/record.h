/* ---- a module's own constants: what `tallyvolt fit` chose, loaded from 32 bytes ---- */
/* Why stored bytes are not believed, in the order of the rules: the first that is broken is answered. */
typedef enum {
    FRONT_END_ACCEPTED = 0,
    FRONT_END_BLANK = 1,            /* erased or never written: all bytes 0xFF, or all 0x00 */
    FRONT_END_NOT_A_RECORD = 2,     /* something else is stored there */
    FRONT_END_OTHER_VERSION = 3,    /* a layout that this header does not know */
    FRONT_END_DAMAGED = 4,          /* the bytes are not those that were written */
    FRONT_END_MADE_FOR_ANOTHER = 5, /* an undamaged record of another description */
    FRONT_END_CONSTANTS = 6,        /* undamaged, but with these constants a count would wrap */
    FRONT_END_LIMIT = 7             /* a limit, or where it comes back, cannot be read with these constants */
} front_end_refusal;
#define FRONT_END_RECORD_BYTES 32 /* layout 2 */
/* The constants of one module: its record in digits of 16 bits, checked by front_end_load.
 *   0 in the upper half LETTER  1 sequence number  2, 3 fingerprint
 *   4, 5 first count that is a voltage  6, 7 number of counts that are; 0 after a refusal: every count is a fault
/* LAYOUT */ */
typedef /* STRUCT */ {
    uint16_t digit[FRONT_END_RECORD_BYTES / 2];
/* WORD */} front_end_module;

#define FRONT_END_WORD(digit) ((uint32_t)(digit)[1] << 16 | (digit)[0]) /* two digits */
/* CONVERT */
/* The voltage of a count in output units, for the module that `module` was loaded for.
 * Range and faults as front_end_voltage. Rounding: to nearest, ties upward, of the module's constants; no error on top. */
static inline front_end_fault front_end_calibrated_voltage(const front_end_module *module, uint32_t count, uint16_t *voltage)
{
    const front_end_position narrow = (front_end_position)count, first = FRONT_END_WHOLE(module->digit + 4);
    const front_end_position position = (front_end_position)(narrow - first);
    if (FRONT_END_TOO_WIDE(count))
        return FRONT_END_RAIL;
    if (position >= FRONT_END_WHOLE(module->digit + 6))
        return front_end_fault_of(narrow, first);
    *voltage = front_end_calibrated_at(module, position);
    return FRONT_END_NO_FAULT;
}

/* Whether every count from the first on is below the rail and gets a voltage. */
FRONT_END_APART uint8_t front_end_take(front_end_module *module)
{
    uint16_t *digit = module->digit;
    const front_end_position first = FRONT_END_WHOLE(digit + 4), last = (front_end_position)(FRONT_END_WHOLE(digit + 6) - 1u);
    const front_end_position room = (front_end_position)(FRONT_END_RAIL_COUNT - first);
/* NAMES */    if (/* NARROW */(front_end_position)(first - 1u) >= (front_end_position)(FRONT_END_RAIL_COUNT - 1) || last >= room/* OR */)
        return 0;
/* TAKE */}

/* A stored record to a module's constants, once at start. After a refusal every count is a fault of the module; go on with
 * front_end_voltage then, and say so. */
FRONT_END_APART front_end_refusal front_end_load(const uint8_t *bytes, front_end_module *module)
{
    const uint8_t mark = *bytes;
    uint32_t crc = UINT32_C(0xFFFFFFFF);
    uint16_t *digit = module->digit;
    uint8_t i, bit, differs = 0, refusal; /* an enumeration takes two bytes on AVR */
    /* CRC-32C (Castagnoli), bit by bit. Over a record and its own CRC it always leaves the same remainder. */
    for (i = 0; i < FRONT_END_RECORD_BYTES; i++) {
        const uint8_t byte = *bytes++;
        differs = (uint8_t)(differs | (byte ^ mark));
        *digit = (uint16_t)(*digit >> 8 | (unsigned)byte << 8);
        if ((i & 1) != 0)
            digit++;
        crc ^= byte;
        for (bit = 8; bit > 0; bit--) {
            const uint8_t is_odd = crc & 1;
            crc >>= 1;
            if (is_odd)
                crc ^= UINT32_C(0x82F63B78);
        }
    }
    refusal = (uint8_t)(differs == 0 && (mark == 0 || mark == 0xFF) ? FRONT_END_BLANK
        : (mark & 0xF0) != 0xB0 ? FRONT_END_NOT_A_RECORD
        : mark != 0xB2 ? FRONT_END_OTHER_VERSION
        : crc != UINT32_C(0xB798B438) ? FRONT_END_DAMAGED
        : FRONT_END_WORD(module->digit + 2) != FRONT_END_FINGERPRINT ? FRONT_END_MADE_FOR_ANOTHER
        : front_end_take(module) ? FRONT_END_ACCEPTED : FRONT_END_CONSTANTS);
    if (refusal != FRONT_END_ACCEPTED)
        module->digit[6] = module->digit[7] = 0;
    return (front_end_refusal)refusal;
}

/* Whether a record is newer than another: its sequence number is 1 to 2^15 - 1 steps ahead, modulo 2^16. */
static inline int front_end_record_is_newer(const uint8_t *bytes, const uint8_t *other)
{
    const uint16_t ahead = (uint16_t)((bytes[2] | bytes[3] << 8) - (other[2] | other[3] << 8));
    return ahead != 0 && ahead < 0x8000;
}
