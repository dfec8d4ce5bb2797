; SPDX-License-Identifier: MIT OR Apache-2.0
; A function for each kind of instruction that avrxt.h charges, with the cycles of all that it executes written beside it, from
; Microchip DS40002198, "Instruction Set Summary", column AVRxt; the last is the return.
        .text
        .macro  fn name
        .global \name
        .type   \name, @function
\name:
        .endm

fn x_nop                        ; 1 + 4
        nop
        ret
fn x_movw                       ; 1 + 4
        movw    r18, r20
        ret
fn x_cpc                        ; 1 + 4
        cpc     r18, r19
        ret
fn x_sbc                        ; 1 + 4
        sbc     r18, r19
        ret
fn x_add                        ; 1 + 4
        add     r18, r19
        ret
fn x_cp                         ; 1 + 4
        cp      r18, r19
        ret
fn x_sub                        ; 1 + 4
        sub     r18, r19
        ret
fn x_adc                        ; 1 + 4
        adc     r18, r19
        ret
fn x_and                        ; 1 + 4
        and     r18, r19
        ret
fn x_eor                        ; 1 + 4
        eor     r18, r19
        ret
fn x_or                         ; 1 + 4
        or      r18, r19
        ret
fn x_mov                        ; 1 + 4
        mov     r18, r19
        ret
fn x_cpi                        ; 1 + 4
        cpi     r18, 1
        ret
fn x_sbci                       ; 1 + 4
        sbci    r18, 1
        ret
fn x_subi                       ; 1 + 4
        subi    r18, 1
        ret
fn x_ori                        ; 1 + 4
        ori     r18, 1
        ret
fn x_andi                       ; 1 + 4
        andi    r18, 1
        ret
fn x_com                        ; 1 + 4
        com     r18
        ret
fn x_neg                        ; 1 + 4
        neg     r18
        ret
fn x_swap                       ; 1 + 4
        swap    r18
        ret
fn x_inc                        ; 1 + 4
        inc     r18
        ret
fn x_asr                        ; 1 + 4
        asr     r18
        ret
fn x_lsr                        ; 1 + 4
        lsr     r18
        ret
fn x_ror                        ; 1 + 4
        ror     r18
        ret
fn x_dec                        ; 1 + 4
        dec     r18
        ret
fn x_bset                       ; 1 + 4
        sec
        ret
fn x_bclr                       ; 1 + 4
        clc
        ret
fn x_wdr                        ; 1 + 4
        wdr
        ret
fn x_cbi                        ; 1 + 4
        cbi     0x1e, 0
        ret
fn x_sbi                        ; 1 + 4
        sbi     0x1e, 0
        ret
fn x_in                         ; 1 + 4
        in      r18, 0x1e
        ret
fn x_ldi                        ; 1 + 4
        ldi     r18, 1
        ret
fn x_bst                        ; 1 + 4
        bst     r18, 0
        ret
fn x_bld                        ; 1 + 4
        bld     r18, 0
        ret
fn x_muls                       ; 2 + 1 + 4
        muls    r18, r19
        clr     r1
        ret
fn x_mulsu                      ; 2 + 1 + 4
        mulsu   r18, r19
        clr     r1
        ret
fn x_mul                        ; 2 + 1 + 4
        mul     r18, r19
        clr     r1
        ret
fn x_cpse_goes_on               ; 1 + 1 + 4
        cpse    r18, r19
        nop
        ret
fn x_cpse_skips_one             ; 2 + 4
        cpse    r18, r18
        nop
        ret
fn x_cpse_skips_two             ; 3 + 4
        cpse    r18, r18
        sts     word, r18
        ret
fn x_ldd                        ; 2 + 2 + 4
        ldi     r30, lo8(word)
        ldi     r31, hi8(word)
        ldd     r18, Z+1
        ret
fn x_std                        ; 2 + 1 + 4
        ldi     r30, lo8(word)
        ldi     r31, hi8(word)
        std     Z+1, r18
        ret
fn x_lds                        ; 3 + 4
        lds     r18, word
        ret
fn x_sts                        ; 2 + 4
        sts     word, r18
        ret
fn x_ld_Z_plus                  ; 2 + 2 + 4
        ldi     r30, lo8(word)
        ldi     r31, hi8(word)
        ld      r18, Z+
        ret
fn x_ld_minus_Z                 ; 2 + 2 + 4
        ldi     r30, lo8(word)
        ldi     r31, hi8(word)
        ld      r18, -Z
        ret
fn x_lpm_Z                      ; 2 + 3 + 4
        ldi     r30, lo8(flash_table)
        ldi     r31, hi8(flash_table)
        lpm     r18, Z
        ret
fn x_lpm_Z_plus                 ; 2 + 3 + 4
        ldi     r30, lo8(flash_table)
        ldi     r31, hi8(flash_table)
        lpm     r18, Z+
        ret
fn x_lpm_r0                     ; 2 + 3 + 4
        ldi     r30, lo8(flash_table)
        ldi     r31, hi8(flash_table)
        lpm
        ret
fn x_ld_Y_plus                  ; 3 + 2 + 1 + 4
        movw    r18, r28
        ldi     r28, lo8(word)
        ldi     r29, hi8(word)
        ld      r20, Y+
        movw    r28, r18
        ret
fn x_ld_minus_Y                 ; 3 + 2 + 1 + 4
        movw    r18, r28
        ldi     r28, lo8(word)
        ldi     r29, hi8(word)
        ld      r20, -Y
        movw    r28, r18
        ret
fn x_ld_X                       ; 2 + 2 + 4
        ldi     r26, lo8(word)
        ldi     r27, hi8(word)
        ld      r18, X
        ret
fn x_ld_X_plus                  ; 2 + 2 + 4
        ldi     r26, lo8(word)
        ldi     r27, hi8(word)
        ld      r18, X+
        ret
fn x_ld_minus_X                 ; 2 + 2 + 4
        ldi     r26, lo8(word)
        ldi     r27, hi8(word)
        ld      r18, -X
        ret
fn x_st_Z_plus                  ; 2 + 1 + 4
        ldi     r30, lo8(word)
        ldi     r31, hi8(word)
        st      Z+, r18
        ret
fn x_st_minus_Z                 ; 2 + 1 + 4
        ldi     r30, lo8(word)
        ldi     r31, hi8(word)
        st      -Z, r18
        ret
fn x_st_Y_plus                  ; 3 + 1 + 1 + 4
        movw    r18, r28
        ldi     r28, lo8(word)
        ldi     r29, hi8(word)
        st      Y+, r20
        movw    r28, r18
        ret
fn x_st_minus_Y                 ; 3 + 1 + 1 + 4
        movw    r18, r28
        ldi     r28, lo8(word)
        ldi     r29, hi8(word)
        st      -Y, r20
        movw    r28, r18
        ret
fn x_st_X                       ; 2 + 1 + 4
        ldi     r26, lo8(word)
        ldi     r27, hi8(word)
        st      X, r18
        ret
fn x_st_X_plus                  ; 2 + 1 + 4
        ldi     r26, lo8(word)
        ldi     r27, hi8(word)
        st      X+, r18
        ret
fn x_st_minus_X                 ; 2 + 1 + 4
        ldi     r26, lo8(word)
        ldi     r27, hi8(word)
        st      -X, r18
        ret
fn x_push_pop                   ; 1 + 2 + 4
        push    r18
        pop     r18
        ret
fn x_ijmp                       ; 2 + 2 + 1 + 4
        ldi     r30, lo8(pm(x_nop))
        ldi     r31, hi8(pm(x_nop))
        ijmp
        ret
fn x_icall                      ; 2 + 2 + 1 + 4 + 4
        ldi     r30, lo8(pm(x_nop))
        ldi     r31, hi8(pm(x_nop))
        icall
        ret
fn x_jmp                        ; 3 + 1 + 4
        jmp     x_nop
        ret
fn x_call                       ; 3 + 1 + 4 + 4
        call    x_nop
        ret
fn x_rjmp                       ; 2 + 1 + 4
        rjmp    x_nop
        ret
fn x_rcall                      ; 2 + 1 + 4 + 4
        rcall   x_nop
        ret
fn x_adiw                       ; 2 + 4
        adiw    r24, 1
        ret
fn x_sbiw                       ; 2 + 4
        sbiw    r24, 1
        ret
fn x_out                        ; 1 + 1 + 4
        in      r18, 0x1e
        out     0x1e, r18
        ret
fn x_sbic_goes_on               ; 1 + 1 + 1 + 4
        sbi     0x1e, 0
        sbic    0x1e, 0
        nop
        ret
fn x_sbic_skips_two             ; 1 + 3 + 4
        cbi     0x1e, 0
        sbic    0x1e, 0
        sts     word, r18
        ret
fn x_sbis_goes_on               ; 1 + 1 + 1 + 4
        cbi     0x1e, 0
        sbis    0x1e, 0
        nop
        ret
fn x_sbis_skips_two             ; 1 + 3 + 4
        sbi     0x1e, 0
        sbis    0x1e, 0
        sts     word, r18
        ret
fn x_brbs_goes_on               ; 1 + 1 + 2 + 4
        clc
        brcs    1f
        nop
        nop
1:
        ret
fn x_brbs_is_taken              ; 1 + 2 + 4
        sec
        brcs    1f
        nop
        nop
1:
        ret
fn x_brbc_goes_on               ; 1 + 1 + 2 + 4
        sec
        brcc    1f
        nop
        nop
1:
        ret
fn x_brbc_is_taken              ; 1 + 2 + 4
        clc
        brcc    1f
        nop
        nop
1:
        ret
fn x_sbrc_goes_on               ; 1 + 1 + 1 + 4
        ldi     r18, 1
        sbrc    r18, 0
        nop
        ret
fn x_sbrc_skips_two             ; 1 + 3 + 4
        ldi     r18, 1
        sbrc    r18, 1
        sts     word, r18
        ret
fn x_sbrs_goes_on               ; 1 + 1 + 1 + 4
        ldi     r18, 1
        sbrs    r18, 1
        nop
        ret
fn x_sbrs_skips_two             ; 1 + 3 + 4
        ldi     r18, 1
        sbrs    r18, 0
        sts     word, r18
        ret
fn x_not_known                  ; AVRxt's SPM depends on the part
        spm
        ret

flash_table:
        .byte   17, 34

        .data
        .byte   0, 0
word:   .word   0x1234
