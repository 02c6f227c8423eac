//go:build !purego

#include "go_asm.h"
#include "textflag.h"

DATA least<>+0(SB)/8, $0xfff0000000000000
GLOBL least<>(SB), RODATA|NOPTR, $8

// Raises best to the score of a sojourn.
#define SOJOURN(score, entered, sum, best) \
	VMOVUPD entered, sum; \
	VADDPD  score, sum, sum; \
	VMAXPD  sum, best, best

// func viterbiStepAVX2(v *viterbiTables, frames int)
//
// The four states lie in the four parts of a register. Y0 to Y3 are the best of
// every fourth sojourn.
TEXT ·viterbiStepAVX2(SB), NOSPLIT, $0-16
	MOVQ         v+0(FP), DI
	MOVQ         frames+8(FP), BX
	DECQ         BX
	MOVQ         viterbiTables_sojourn+0(DI), R8
	MOVQ         viterbiTables_sojourn+8(DI), R9
	SHLQ         $3, R9
	MOVQ         viterbiTables_entered(DI), R10
	ADDQ         R9, R10 // what entered the least sojourn before frame 1
	MOVQ         viterbiTables_shortest(DI), R11
	SHLQ         $5, R11
	ADDQ         R10, R11 // what enters in frame 1
	MOVQ         viterbiTables_first+0(DI), R12
	MOVQ         viterbiTables_first+8(DI), R13
	LEAQ         (R12)(R13*8), R13
	ADDQ         $32, R12
	MOVQ         viterbiTables_level(DI), DX
	ADDQ         $32, DX
	VBROADCASTSD least<>(SB), Y14

frame:
	VMOVAPD Y14, Y0
	VMOVAPD Y14, Y1
	VMOVAPD Y14, Y2
	VMOVAPD Y14, Y3
	MOVQ    R8, AX
	MOVQ    R10, CX
	MOVQ    R9, DI
	SUBQ    $128, DI
	JLT     rest

four:
	SOJOURN((AX), (CX), Y4, Y0)
	SOJOURN(32(AX), -32(CX), Y5, Y1)
	SOJOURN(64(AX), -64(CX), Y6, Y2)
	SOJOURN(96(AX), -96(CX), Y7, Y3)
	ADDQ $128, AX
	SUBQ $128, CX
	SUBQ $128, DI
	JGE  four

rest:
	ADDQ $128, DI
	JZ   first

one:
	SOJOURN((AX), (CX), Y4, Y0)
	ADDQ $32, AX
	SUBQ $32, CX
	SUBQ $32, DI
	JNZ  one

first:
	VMAXPD Y1, Y0, Y0
	VMAXPD Y3, Y2, Y2
	VMAXPD Y2, Y0, Y0
	CMPQ   R12, R13
	JGE    left
	VMAXPD (R12), Y0, Y0
	ADDQ   $32, R12

left:
	VMOVUPD (DX), Y6
	VADDPD  Y6, Y0, Y0
	VPERMPD $0x93, Y0, Y0 // to the next state
	VSUBPD  Y6, Y0, Y0
	VMOVUPD Y0, (R11)
	ADDQ    $32, R10
	ADDQ    $32, R11
	ADDQ    $32, DX
	DECQ    BX
	JNZ     frame
	VZEROUPPER
	RET
