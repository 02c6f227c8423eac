//go:build !purego

#include "textflag.h"

// Offsets in forwardState of the first values and of the lengths of its slices.
#define SOJOURN 0
#define SOJOURN_LEN 8
#define ENTERED 24
#define GAIN 48
#define LEFT 72
#define SHARE 96
#define SIZE 120

// LEAVE takes the sum in Y0 through the factors of frame BX of the state SI.
#define LEAVE \
	MOVQ         GAIN(SI), R12; \
	VBROADCASTSD (R12)(BX*8), Y4; \
	VMULPD       Y4, Y0, Y0; \
	MOVQ         SHARE(SI), R12; \
	VBROADCASTSD (R12)(BX*8), Y5; \
	VMULPD       Y5, Y0, Y5; \
	MOVQ         LEFT(SI), R12; \
	VMOVUPD      Y5, (R12)(AX*1)

// func forwardStepAVX2(states *[4]forwardState, frames int)
//
// Two frames at a time share what they read: all terms of the first, and of the
// second all but the last, which must wait for what enters in the first. BX is
// the frame, AX its offset in sequences that lie side by side, SI the state. Y0
// and Y1 hold the sums of even and odd terms of the first frame, Y2 and Y3 those
// of the second, of which the stack keeps the sum of each state.
TEXT ·forwardStepAVX2(SB), NOSPLIT, $128-16
	MOVQ states+0(FP), DI
	MOVQ frames+8(FP), CX
	XORQ BX, BX
	XORQ AX, AX

pair:
	MOVQ DI, SI
	LEAQ second-128(SP), R13
	MOVQ $4, DX

first:
	MOVQ    SOJOURN(SI), R9
	MOVQ    SOJOURN_LEN(SI), R10
	MOVQ    ENTERED(SI), R11
	ADDQ    AX, R11
	VXORPD  Y0, Y0, Y0
	VXORPD  Y1, Y1, Y1
	VXORPD  Y2, Y2, Y2
	VXORPD  Y3, Y3, Y3
	VMOVUPD (R11), Y7
	SUBQ    $12, R10 // two terms and the last
	JLT     odd

two:
	VMOVUPD     (R9), Y4
	VMOVUPD     32(R9), Y5
	VMOVUPD     32(R11), Y6
	VFMADD231PD Y7, Y4, Y0
	VFMADD231PD Y6, Y4, Y2
	VMOVUPD     64(R11), Y7
	VFMADD231PD Y6, Y5, Y1
	VFMADD231PD Y7, Y5, Y3
	ADDQ        $64, R9
	ADDQ        $64, R11
	SUBQ        $8, R10
	JGE         two

odd:
	ADDQ        $8, R10
	JLE         last
	VMOVUPD     (R9), Y4
	VMOVUPD     32(R11), Y6
	VFMADD231PD Y7, Y4, Y0
	VFMADD231PD Y6, Y4, Y2
	VMOVAPD     Y6, Y7
	ADDQ        $32, R9

last:
	VADDPD      Y1, Y0, Y0
	VFMADD231PD (R9), Y7, Y0
	VADDPD      Y3, Y2, Y2
	VMOVUPD     Y2, (R13)
	LEAVE
	ADDQ        $32, R13
	ADDQ        $SIZE, SI
	DECQ        DX
	JNZ         first
	ADDQ        $32, AX
	INCQ        BX
	CMPQ        BX, CX
	JGE         done
	MOVQ        DI, SI
	LEAQ        second-128(SP), R13
	MOVQ        $4, DX

second:
	MOVQ        SOJOURN(SI), R9
	MOVQ        SOJOURN_LEN(SI), R10
	MOVQ        ENTERED(SI), R11
	ADDQ        AX, R11
	VMOVUPD     (R13), Y0
	VMOVUPD     -32(R9)(R10*8), Y4
	VFMADD231PD -32(R11)(R10*8), Y4, Y0
	LEAVE
	ADDQ        $32, R13
	ADDQ        $SIZE, SI
	DECQ        DX
	JNZ         second
	ADDQ        $32, AX
	INCQ        BX
	CMPQ        BX, CX
	JLT         pair

done:
	VZEROUPPER
	RET
