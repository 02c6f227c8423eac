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

// Sets sixteen sums to what stands in dst plus the bias in Y8 and Y9.
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

// func addProductAVX2(dst, a, b *float32, bias *[productCols]float32, floor float32, rows int, p *Product)
//
// DI is the first of four rows of dst, SI their first term in a. R8 and R9 are one
// and three rows of a in bytes, R10 and R11 of dst.
TEXT ·addProductAVX2(SB), NOSPLIT, $0-56
	MOVQ dst+0(FP), DI
	MOVQ a+8(FP), SI
	MOVQ p+48(FP), BX
	MOVQ Product_ANextRow(BX), R8
	SHLQ $2, R8
	LEAQ (R8)(R8*2), R9
	MOVQ Product_ANext(BX), R12
	SHLQ $2, R12

rows:
	MOVQ    Product_NextRow(BX), R10
	SHLQ    $2, R10
	LEAQ    (R10)(R10*2), R11
	MOVQ    bias+24(FP), AX
	VMOVUPS (AX), Y8
	VMOVUPS 32(AX), Y9
	START((DI), 32(DI), Y0, Y1)
	START((DI)(R10*1), 32(DI)(R10*1), Y2, Y3)
	START((DI)(R10*2), 32(DI)(R10*2), Y4, Y5)
	START((DI)(R11*1), 32(DI)(R11*1), Y6, Y7)

	MOVQ b+16(FP), DX
	MOVQ Product_BNext(BX), R10
	SHLQ $2, R10
	MOVQ SI, R11                // first term of the tap
	MOVQ Product_Taps(BX), R13

taps:
	MOVQ R11, AX
	MOVQ Product_Depth(BX), CX

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

	MOVQ Product_ANextTap(BX), AX
	LEAQ (R11)(AX*4), R11
	DECQ R13
	JNZ  taps

	MOVQ         Product_NextRow(BX), R10
	SHLQ         $2, R10
	LEAQ         (R10)(R10*2), R11
	VBROADCASTSS floor+32(FP), Y8
	FINISH(Y0, Y1, (DI), 32(DI))
	FINISH(Y2, Y3, (DI)(R10*1), 32(DI)(R10*1))
	FINISH(Y4, Y5, (DI)(R10*2), 32(DI)(R10*2))
	FINISH(Y6, Y7, (DI)(R11*1), 32(DI)(R11*1))

	LEAQ (DI)(R10*4), DI
	LEAQ (SI)(R8*4), SI
	SUBQ $4, rows+40(FP)
	JNZ  rows
	VZEROUPPER
	RET
