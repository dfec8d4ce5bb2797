/* The constants of one module: (M * position + B) >> S, which front_end_load found to fit at every count.
 *
 *   short  M = factor[0]                    B = addend                          S = FRONT_END_SHORT_SHIFT
 *   long   M = factor of three such digits  B = addend_top * 2^32 + addend      S = 32 */
typedef struct {
    front_end_position first;  /* first count that is a voltage */
    front_end_position quick;  /* number of counts that are, in the short form; 0 in the long one */
    front_end_position counts; /* the same in either; 0 after a refusal, so that every count is a fault */
    uint16_t factor[3], addend_top;
    uint32_t addend;
} front_end_module;

/* The long form; 2^16 or more where it does not fit. No step wraps. */
static inline front_end_sum front_end_calibrated_slow(const front_end_module *module, front_end_position position)
{
    front_end_sum sum = (front_end_sum)module->factor[0] * position + (uint16_t)module->addend;
    sum = (front_end_sum)module->factor[1] * position + (module->addend >> 16) + (sum >> 16);
    return (front_end_sum)module->factor[2] * position + module->addend_top + (sum >> 16);
}
