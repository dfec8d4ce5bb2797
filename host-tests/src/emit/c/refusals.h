/* ---- a module's own constants: what `tallyvolt fit` chose and proved, loaded from 32 bytes ---- */

/* Why stored bytes are not believed, in the order in which they are looked at. */
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
