/* Aside: a rare call from what is otherwise a leaf. On Cortex-M0+ a function that calls saves its return address on its quick
 * ways, too; here the rare way does, itself. Eight bytes keep the stack aligned. */
#if FRONT_END_CORTEX_M0
FRONT_END_WITHIN uint32_t front_end_aside(uintptr_t function, uint32_t number, const void *data)
{
    register uint32_t r0 __asm__("r0") = number;
    register const void *r1 __asm__("r1") = data;
    register uintptr_t r2 __asm__("r2") = function;
    __asm__ volatile("push {r3, lr}\n\tblx r2\n\tpop {r2, r3}\n\tmov lr, r3"
                     : "+r"(r0), "+r"(r1), "+r"(r2)
                     :
                     : "r3", "r12", "cc", "memory");
    return r0;
}
#define FRONT_END_ASIDE(function, number, data) front_end_aside((uintptr_t)(function), number, data)
#else
#define FRONT_END_ASIDE(function, number, data) function(number, data)
#endif
