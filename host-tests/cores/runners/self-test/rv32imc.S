# SPDX-License-Identifier: MIT OR Apache-2.0
# Functions whose executed instructions are the sums written beside them.
        .text
        .macro  fn name
        .global \name
        .type   \name, @function
\name:
        .endm

fn return_only                  # 1
        ret
fn add32                        # 1 + 1
        add     a0, a0, a1
        ret
.ifdef M
fn divide                       # 1 + 1, one division
        divu    a0, a0, a1
        ret
fn divide_and_rest              # 4 + 1, two divisions
        mv      a2, a0
        divu    a0, a2, a1
        remu    a1, a2, a1
        add     a0, a0, a1
        ret
fn multiply_high                # 1 + 1, no division
        mulhu   a0, a0, a1
        ret
.endif
fn loop32                       # 2 n + 1
        addi    a0, a0, -1
        bnez    a0, loop32
        ret
fn push_pop                     # 4 + 1
        addi    sp, sp, -16
        sw      s0, 0(sp)
        lw      s0, 0(sp)
        addi    sp, sp, 16
        ret
fn spoils_saved
        li      s1, 1
        ret
fn never_returns
        j       never_returns
