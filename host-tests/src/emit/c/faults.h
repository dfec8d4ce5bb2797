/* Why a count is no voltage: a value to be handled, in the order in which the rules are applied. */
typedef enum {
    FRONT_END_NO_FAULT = 0,    /* the count is a voltage */
    FRONT_END_ZERO_COUNT = 1,  /* an open input, a lost reference, or a voltage below the first step */
    FRONT_END_RAIL = 2,        /* the largest count or more: the input stands at the reference or above it */
    FRONT_END_BELOW_RANGE = 3, /* would round to less than zero */
    /* LAST */
} front_end_fault;

/* The fault of a count outside a window that starts at `first`. */
static inline front_end_fault front_end_fault_of(front_end_position count, front_end_position first)
{
    return count == 0 ? FRONT_END_ZERO_COUNT
        : count >= (front_end_position)FRONT_END_RAIL_COUNT ? FRONT_END_RAIL
        : count < first ? FRONT_END_FAULT_BEFORE : FRONT_END_FAULT_BEHIND;
}
