//go:build !purego

#include "textflag.h"

// func stepsAVX2(steps *int16, twice *uint32, x *float64, n int, low, perUnit float64)
TEXT ·stepsAVX2(SB), NOSPLIT, $0-48
	MOVQ         steps+0(FP), DI
	MOVQ         twice+8(FP), DX
	MOVQ         x+16(FP), SI
	MOVQ         n+24(FP), CX
	VBROADCASTSD low+32(FP), Y14
	VBROADCASTSD perUnit+40(FP), Y15

eight:
	VMOVUPD     (SI), Y0
	VMOVUPD     32(SI), Y1
	VSUBPD      Y14, Y0, Y0
	VSUBPD      Y14, Y1, Y1
	VMULPD      Y15, Y0, Y0
	VMULPD      Y15, Y1, Y1
	VCVTTPD2DQY Y0, X0
	VCVTTPD2DQY Y1, X1
	VPACKSSDW   X1, X0, X2
	VMOVDQU     X2, (DI)
	VPSLLD      $16, X0, X3
	VPSLLD      $16, X1, X4
	VPOR        X3, X0, X0
	VPOR        X4, X1, X1
	VMOVDQU     X0, (DX)
	VMOVDQU     X1, 16(DX)
	ADDQ        $64, SI
	ADDQ        $16, DI
	ADDQ        $32, DX
	SUBQ        $8, CX
	JNZ         eight
	VZEROUPPER
	RET

// NEAR sets Y1 to sixteen words of ones where a value is near x[j], and goes a step
// down. The differences in steps decide, or, where one of them does not, those of
// the values themselves, whose words have to be put in order.
#define NEAR(decided) \
	VPBROADCASTD (R12)(R9*4), Y0; \
	VPSUBW       (R11)(R9*2), Y0, Y0; \
	VPABSW       Y0, Y0; \
	VPCMPGTW     Y0, Y12, Y1; \
	VPCMPGTW     Y0, Y7, Y2; \
	VPXOR        Y1, Y2, Y2; \
	VPMOVMSKB    Y2, AX; \
	TESTL        AX, AX; \
	JEQ          decided; \
	VBROADCASTSD (SI)(R9*8), Y0; \
	VSUBPD       (DI)(R9*8), Y0, Y1; \
	VSUBPD       32(DI)(R9*8), Y0, Y2; \
	VSUBPD       64(DI)(R9*8), Y0, Y3; \
	VSUBPD       96(DI)(R9*8), Y0, Y4; \
	VANDPD       Y14, Y1, Y1; \
	VANDPD       Y14, Y2, Y2; \
	VANDPD       Y14, Y3, Y3; \
	VANDPD       Y14, Y4, Y4; \
	VCMPPD       $0x12, Y15, Y1, Y1; \
	VCMPPD       $0x12, Y15, Y2, Y2; \
	VCMPPD       $0x12, Y15, Y3, Y3; \
	VCMPPD       $0x12, Y15, Y4, Y4; \
	VSHUFPS      $0x88, Y2, Y1, Y1; \
	VSHUFPS      $0x88, Y4, Y3, Y3; \
	VPACKSSDW    Y3, Y1, Y1; \
	VPERMQ       $0xd8, Y1, Y1; \
	VPSHUFD      $0xd8, Y1, Y1; \
decided: \
	DECQ R9

// TOTAL sets the register to the sum of the sixteen words in Y and X.
#define TOTAL(Y, X, register) \
	VPMADDWD     Y13, Y, Y; \
	VEXTRACTI128 $1, Y, X0; \
	VPADDD       X0, X, X; \
	VPSHUFD      $0x4e, X, X0; \
	VPADDD       X0, X, X; \
	VPSHUFD      $0xb1, X, X0; \
	VPADDD       X0, X, X; \
	VMOVD        X, register

// func templateMatchesAVX2(x *float64, steps *int16, twice *uint32, n, distance int, r float64, near, possible int16) (two, three int)
//
// R9 is j; DI and R11 point distance + 15 before x and steps. Y8 and Y9 tell which
// values were near one and two steps ago, Y10 and Y11 count.
TEXT ·templateMatchesAVX2(SB), NOSPLIT, $0-72
	MOVQ         x+0(FP), SI
	MOVQ         steps+8(FP), R11
	MOVQ         twice+16(FP), R12
	MOVQ         n+24(FP), R9
	MOVQ         distance+32(FP), DX
	VBROADCASTSD r+40(FP), Y15
	VPBROADCASTW near+48(FP), Y12
	VPBROADCASTW possible+50(FP), Y7
	VPCMPEQD     Y14, Y14, Y14
	VPSRLW       $15, Y14, Y13
	VPSRLQ       $1, Y14, Y14
	VPXOR        Y10, Y10, Y10
	VPXOR        Y11, Y11, Y11

	LEAQ 15(DX), AX
	ADDQ AX, AX
	SUBQ AX, R11
	SHLQ $2, AX
	MOVQ SI, DI
	SUBQ AX, DI

	DECQ    R9
	NEAR(last)
	VMOVDQA Y1, Y9
	NEAR(lastButOne)
	VMOVDQA Y1, Y8

step:
	NEAR(counted)
	VPAND   Y8, Y1, Y5
	VPAND   Y9, Y5, Y6
	VPSUBW  Y5, Y10, Y10
	VPSUBW  Y6, Y11, Y11
	VMOVDQA Y8, Y9
	VMOVDQA Y1, Y8
	CMPQ    R9, DX
	JGE     step

	TOTAL(Y10, X10, AX)
	TOTAL(Y11, X11, CX)
	MOVLQZX AX, AX
	MOVLQZX CX, CX
	MOVQ    AX, two+56(FP)
	MOVQ    CX, three+64(FP)
	VZEROUPPER
	RET
