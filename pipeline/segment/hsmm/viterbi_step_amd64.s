//go:build !purego

#include "textflag.h"

// Offsets in viterbiTables of the first values and of the lengths of its slices.
#define SOJOURN 0
#define SOJOURN_LEN 8
#define SHORTEST 24
#define FIRST 32
#define FIRST_LEN 40
#define LEVEL 56
#define ENTERED 80
#define LENGTH 104

// Comparisons of numbers, false for NaN.
#define EQUAL $0
#define GREATER $0x1e

DATA least<>+0(SB)/8, $0xfff0000000000000
GLOBL least<>(SB), RODATA|NOPTR, $8
DATA one<>+0(SB)/8, $0x3ff0000000000000
GLOBL one<>(SB), RODATA|NOPTR, $8

// func viterbiStepAVX2(v *viterbiTables, frames int)
//
// Y0 and Y1 hold the best of the even and of the odd sojourns, Y2 and Y3 their
// lengths, Y4 and Y5 the lengths that are next.
TEXT ·viterbiStepAVX2(SB), NOSPLIT, $0-16
	MOVQ         v+0(FP), DI
	MOVQ         frames+8(FP), BX
	DECQ         BX
	MOVQ         SOJOURN(DI), R8
	MOVQ         SOJOURN_LEN(DI), R9
	SHLQ         $3, R9
	MOVQ         ENTERED(DI), R10
	ADDQ         R9, R10 // what entered the least sojourn before frame 1
	MOVQ         SHORTEST(DI), R11
	VCVTSI2SDQ   R11, X15, X15
	VBROADCASTSD X15, Y15 // the least sojourn
	SHLQ         $5, R11
	ADDQ         R10, R11 // what enters in frame 1
	MOVQ         FIRST(DI), R12
	MOVQ         FIRST_LEN(DI), R13
	LEAQ         (R12)(R13*8), R13
	ADDQ         $32, R12
	MOVQ         LEVEL(DI), DX
	ADDQ         $32, DX
	MOVQ         LENGTH(DI), SI
	ADDQ         $16, SI
	VBROADCASTSD least<>(SB), Y14
	VBROADCASTSD one<>(SB), Y13
	VADDPD       Y13, Y13, Y12
	VMOVAPD      Y13, Y11 // the frame

frame:
	VMOVAPD Y14, Y0
	VMOVAPD Y14, Y1
	VXORPD  Y2, Y2, Y2
	VXORPD  Y3, Y3, Y3
	VMOVAPD Y15, Y4
	VADDPD  Y13, Y15, Y5
	MOVQ    R8, AX
	MOVQ    R10, CX
	MOVQ    R9, DI
	SUBQ    $64, DI
	JLT     odd

two:
	VMOVUPD   (CX), Y6
	VMOVUPD   -32(CX), Y7
	VADDPD    (AX), Y6, Y6
	VADDPD    32(AX), Y7, Y7
	VCMPPD    GREATER, Y0, Y6, Y8
	VCMPPD    GREATER, Y1, Y7, Y9
	VMAXPD    Y0, Y6, Y0
	VMAXPD    Y1, Y7, Y1
	VBLENDVPD Y8, Y4, Y2, Y2
	VBLENDVPD Y9, Y5, Y3, Y3
	VADDPD    Y12, Y4, Y4
	VADDPD    Y12, Y5, Y5
	ADDQ      $64, AX
	SUBQ      $64, CX
	SUBQ      $64, DI
	JGE       two

odd:
	ADDQ      $64, DI
	JZ        both
	VMOVUPD   (CX), Y6
	VADDPD    (AX), Y6, Y6
	VCMPPD    GREATER, Y0, Y6, Y8
	VMAXPD    Y0, Y6, Y0
	VBLENDVPD Y8, Y4, Y2, Y2

both:
	VCMPPD    GREATER, Y0, Y1, Y8
	VCMPPD    EQUAL, Y0, Y1, Y9
	VCMPPD    GREATER, Y3, Y2, Y10
	VANDPD    Y9, Y10, Y10
	VORPD     Y10, Y8, Y8
	VBLENDVPD Y8, Y1, Y0, Y0
	VBLENDVPD Y8, Y3, Y2, Y2
	CMPQ      R12, R13
	JGE       left
	VMOVUPD   (R12), Y6
	ADDQ      $32, R12
	VCMPPD    GREATER, Y0, Y6, Y8
	VBLENDVPD Y8, Y6, Y0, Y0
	VBLENDVPD Y8, Y11, Y2, Y2

left:
	VMOVUPD     (DX), Y6
	VADDPD      Y6, Y0, Y0
	VPERMPD     $0x93, Y0, Y0 // to the next state
	VSUBPD      Y6, Y0, Y0
	VMOVUPD     Y0, (R11)
	VCVTTPD2DQY Y2, X2
	VMOVDQU     X2, (SI)
	VADDPD      Y13, Y11, Y11
	ADDQ        $32, R10
	ADDQ        $32, R11
	ADDQ        $32, DX
	ADDQ        $16, SI
	DECQ        BX
	JNZ         frame
	VZEROUPPER
	RET
