#include "textflag.h"

// NEAR sets Y1 to sixteen words of ones where the values from DI on are near the
// one at BX, and goes a step down.
#define NEAR \
	VBROADCASTSD (BX), Y0; \
	VSUBPD       (DI), Y0, Y1; \
	VSUBPD       32(DI), Y0, Y2; \
	VSUBPD       64(DI), Y0, Y3; \
	VSUBPD       96(DI), Y0, Y4; \
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
	SUBQ         $8, BX; \
	SUBQ         $8, DI

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

// func recurAVX2(x *float64, n, lag int, r float64) (two, three int)
//
// BX points at x[j], DI at the sixteen values that end lag before it. Y8 and Y9
// tell which of them were near one and two steps ago, Y10 and Y11 count.
TEXT ·recurAVX2(SB), NOSPLIT, $0-48
	MOVQ         x+0(FP), SI
	MOVQ         n+8(FP), CX
	MOVQ         lag+16(FP), DX
	VBROADCASTSD r+24(FP), Y15
	VPCMPEQD     Y14, Y14, Y14
	VPSRLW       $15, Y14, Y13
	VPSRLQ       $1, Y14, Y14
	VPXOR        Y10, Y10, Y10
	VPXOR        Y11, Y11, Y11

	LEAQ -8(SI)(CX*8), BX
	LEAQ 15(DX), DI
	SHLQ $3, DI
	NEGQ DI
	ADDQ BX, DI
	SUBQ DX, CX
	SUBQ $2, CX

	NEAR
	VMOVDQA Y1, Y9
	NEAR
	VMOVDQA Y1, Y8

step:
	NEAR
	VPAND   Y8, Y1, Y5
	VPAND   Y9, Y5, Y6
	VPSUBW  Y5, Y10, Y10
	VPSUBW  Y6, Y11, Y11
	VMOVDQA Y8, Y9
	VMOVDQA Y1, Y8
	DECQ    CX
	JNZ     step

	TOTAL(Y10, X10, AX)
	TOTAL(Y11, X11, CX)
	MOVLQZX AX, AX
	MOVLQZX CX, CX
	MOVQ    AX, two+32(FP)
	MOVQ    CX, three+40(FP)
	VZEROUPPER
	RET
