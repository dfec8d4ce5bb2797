/* ---- a module's own gain and offset ---- */

/* Why a stored calibration is not believed. */
typedef enum {
    FRONT_END_ACCEPTED = 0,
    FRONT_END_BLANK = 1,            /* erased or never written: all bytes 0xFF, or all 0x00 */
    FRONT_END_NOT_A_RECORD = 2,     /* something else is stored there */
    FRONT_END_OTHER_VERSION = 3,    /* a layout that this header does not know */
    FRONT_END_DAMAGED = 4,          /* the bytes are not those that were written */
    FRONT_END_MADE_FOR_ANOTHER = 5, /* an undamaged record of another description */
    FRONT_END_GAIN = 6,             /* gain outside 0.5 to 2 */
    FRONT_END_OFFSET = 7,           /* offset outside -4096 to 4096 single-sample counts */
    FRONT_END_UNPROVEN = 8,         /* no product of up to 96 bits is exact at every count */
    FRONT_END_LIMIT = 9             /* a limit, or where it comes back, cannot be read with this calibration */
} front_end_refusal;

static inline front_end_refusal front_end_check_words(uint32_t gain, int32_t offset)
{
    if (gain < UINT32_C(0x800000) || gain > UINT32_C(0x2000000))
        return FRONT_END_GAIN;
    if (offset < -INT32_C(0x100000) || offset > INT32_C(0x100000))
        return FRONT_END_OFFSET;
    return FRONT_END_ACCEPTED;
}
