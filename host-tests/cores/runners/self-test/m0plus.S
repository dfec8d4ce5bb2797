@ SPDX-License-Identifier: MIT OR Apache-2.0
@ Functions whose cycles are the sums written beside them, from table 3.1 of Arm DDI 0484C (Cortex-M0+).
        .syntax unified
        .cpu    cortex-m0plus
        .thumb
        .text
        .macro  fn name
        .balign 4
        .global \name
        .thumb_func
        .type   \name, %function
\name:
        .endm

fn return_only                  @ 2
        bx      lr
fn add32                        @ 1 + 2
        adds    r0, r0, r1
        bx      lr
fn multiply32                   @ 1 + 2
        muls    r0, r1, r0
        bx      lr
fn literal                      @ 2 + 2
        ldr     r0, 1f
        bx      lr
        .balign 4
1:      .word   0x12345678
fn loop32                       @ n * (1 + 2) - 1 + 2
        subs    r0, r0, #1
        bne     loop32
        bx      lr
fn load_multiple                @ (1 + 2) + 1 + 2
        ldmia   r0!, {r1, r2}
        adds    r0, r1, r2
        bx      lr
fn store_load                   @ 2 + 2 + 2 + 2 + 2
        ldr     r1, 1f
        strh    r0, [r1]
        ldrh    r0, [r1]
        ldrb    r0, [r1, #1]
        bx      lr
        .balign 4
1:      .word   word
fn push_pop                     @ (1 + 2) + (3 + 2)
        push    {r4, lr}
        pop     {r4, pc}
fn nested                       @ (1 + 2) + 3 + 2 + (3 + 2)
        push    {r4, lr}
        bl      return_only
        pop     {r4, pc}
fn high_registers               @ 1 + 1 + 1 + 2
        mov     r12, r0
        add     r12, r1
        mov     r0, r12
        bx      lr
fn branch                       @ 2 + 2
        b       1f
        nop
1:      bx      lr
fn move_to_pc                   @ 2
        mov     pc, lr
fn double64                     @ 1 + 1 + 2, result in r1:r0
        adds    r0, r0, r0
        adcs    r1, r1
        bx      lr
fn spoils_saved
        movs    r4, #1
        bx      lr
fn leaves_stack
        sub     sp, sp, #8
        bx      lr
fn breakpoint
        bkpt    #0
        bx      lr
fn never_returns
        b       never_returns

        .data
        .balign 4
        .global word
word:   .word   3, 4
