//go:build !purego

#include "go_asm.h"
#include "textflag.h"

// Adds the products of one value of a, at address at, with sixteen of b in Y8 and
// Y9 to sixteen sums.
#define TERM(at, low, high, sum0, sum1) \
	VBROADCASTSS at, low; \
	VMULPS       Y9, low, high; \
	VMULPS       Y8, low, low; \
	VADDPS       high, sum1, sum1; \
	VADDPS       low, sum0, sum0

// Sets sixteen sums to those of start plus the bias in Y8 and Y9.
#define START(at0, at1, sum0, sum1) \
	VADDPS at0, Y8, sum0; \
	VADDPS at1, Y9, sum1

// Raises sixteen sums to the floor in Y8 and writes them. A sum that is not a
// number stays, since VMAXPS gives its last operand, here written first.
#define FINISH(sum0, sum1, at0, at1) \
	VMAXPS  sum0, Y8, sum0; \
	VMAXPS  sum1, Y8, sum1; \
	VMOVUPS sum0, at0; \
	VMOVUPS sum1, at1

// func sumProductsAVX2(dst *float32, start *[productCols]float32, startNext int, a, b *float32, bias *[productCols]float32, floor float32, rows int, p *Products)
//
// DI is the first of four rows of dst, SI their first term in a. R8 and R9 are one
// and three rows of a in bytes, R10 and R11 of start and dst.
TEXT ·sumProductsAVX2(SB), NOSPLIT, $0-72
	MOVQ dst+0(FP), DI
	MOVQ a+24(FP), SI
	MOVQ p+64(FP), BX
	MOVQ Products_ANextRow(BX), R8
	SHLQ $2, R8
	LEAQ (R8)(R8*2), R9
	MOVQ Products_ANext(BX), R12
	SHLQ $2, R12

rows:
	MOVQ    bias+40(FP), AX
	VMOVUPS (AX), Y8
	VMOVUPS 32(AX), Y9
	MOVQ    start+8(FP), AX
	MOVQ    startNext+16(FP), R10
	SHLQ    $2, R10
	LEAQ    (R10)(R10*2), R11
	START((AX), 32(AX), Y0, Y1)
	START((AX)(R10*1), 32(AX)(R10*1), Y2, Y3)
	START((AX)(R10*2), 32(AX)(R10*2), Y4, Y5)
	START((AX)(R11*1), 32(AX)(R11*1), Y6, Y7)
	LEAQ    (AX)(R10*4), AX
	MOVQ    AX, start+8(FP)

	// The terms, tap by tap. R11 is the first of the tap in a, DX the next in b.
	MOVQ b+32(FP), DX
	MOVQ Products_BNext(BX), R10
	SHLQ $2, R10
	MOVQ SI, R11
	MOVQ Products_Taps(BX), R13

taps:
	MOVQ R11, AX
	MOVQ Products_Depth(BX), CX

terms:
	VMOVUPS (DX), Y8
	VMOVUPS 32(DX), Y9
	TERM((AX), Y10, Y11, Y0, Y1)
	TERM((AX)(R8*1), Y12, Y13, Y2, Y3)
	TERM((AX)(R8*2), Y14, Y15, Y4, Y5)
	TERM((AX)(R9*1), Y10, Y11, Y6, Y7)
	ADDQ    R12, AX
	ADDQ    R10, DX
	DECQ    CX
	JNZ     terms

	MOVQ Products_ANextTap(BX), AX
	LEAQ (R11)(AX*4), R11
	DECQ R13
	JNZ  taps

	MOVQ         Products_NextRow(BX), R10
	SHLQ         $2, R10
	LEAQ         (R10)(R10*2), R11
	VBROADCASTSS floor+48(FP), Y8
	FINISH(Y0, Y1, (DI), 32(DI))
	FINISH(Y2, Y3, (DI)(R10*1), 32(DI)(R10*1))
	FINISH(Y4, Y5, (DI)(R10*2), 32(DI)(R10*2))
	FINISH(Y6, Y7, (DI)(R11*1), 32(DI)(R11*1))

	LEAQ (DI)(R10*4), DI
	LEAQ (SI)(R8*4), SI
	SUBQ $4, rows+56(FP)
	JNZ  rows
	VZEROUPPER
	RET
