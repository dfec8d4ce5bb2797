; SPDX-License-Identifier: MIT OR Apache-2.0
; Functions whose cycles are the sums written beside them, from the AVR instruction set manual (ATmega column).
        .text
        .macro  fn name
        .global \name
        .type   \name, @function
\name:
        .endm

fn return_only                  ; 4
        ret
fn frame96                      ; 10 + 4; on the smaller chip the halves of its stack pointer are apart for a while
        in      r30, 0x3d
        in      r31, 0x3e
        subi    r30, 96
        sbci    r31, 0
        out     0x3e, r31
        out     0x3d, r30
        subi    r30, lo8(-96)
        sbci    r31, hi8(-96)
        out     0x3e, r31
        out     0x3d, r30
        ret
fn add16                        ; 1 + 1 + 4
        add     r24, r22
        adc     r25, r23
        ret
#ifdef __AVR_HAVE_MUL__
fn multiply8                    ; 2 + 1 + 1 + 4
        mul     r24, r22
        movw    r24, r0
        clr     r1
        ret
#endif
fn loop8                        ; n * (1 + 2) - 1 + 4
        dec     r24
        brne    loop8
        ret
fn flash_byte                   ; 1 + 3 + 4
        movw    r30, r24
        lpm     r24, Z
        ret
fn ram_word                     ; 2 + 2 + 4
        lds     r24, word
        lds     r25, word + 1
        ret
fn push_pop                     ; 2 + 2 + 4, one byte on the stack
        push    r28
        pop     r28
        ret
fn nested                       ; 3 + 4 + 4, a second return address on the stack
        rcall   return_only
        ret
fn shift32                      ; 4 + 4, result in r25:r22
        lsl     r22
        rol     r23
        rol     r24
        rol     r25
        ret
fn spoils_saved
        ldi     r16, 1
        ret
fn spoils_r1
        inc     r1
        ret
fn leaves_stack
        pop     r18
        pop     r19
        push    r19
        push    r18
        push    r18
        push    r19
        push    r18
        ret
fn never_returns
        rjmp    never_returns

        .global flash_table
flash_table:
        .byte   17, 34

        .data
        .global word
word:   .word   0x1234
