//go:build !purego

#include "textflag.h"
#include "transpose_amd64.h"

DATA quarter<>+0(SB)/8, $0.25
GLOBL quarter<>(SB), RODATA|NOPTR, $8

// scale·(re² + im²) to power, of the bin at re and im and its mirror image.
#define EVEN(re, im, mirrorRe, mirrorIm, power) \
	VMOVUPD     re, Y8; \
	VADDPD      mirrorRe, Y8, Y8; \
	VMOVUPD     im, Y9; \
	VSUBPD      mirrorIm, Y9, Y9; \
	VMULPD      Y9, Y9, power; \
	VFMADD231PD Y8, Y8, power; \
	VMULPD      Y14, power, power

#define ODD(re, im, mirrorRe, mirrorIm, power) \
	VMOVUPD     im, Y8; \
	VADDPD      mirrorIm, Y8, Y8; \
	VMOVUPD     re, Y9; \
	VSUBPD      mirrorRe, Y9, Y9; \
	VMULPD      Y9, Y9, power; \
	VFMADD231PD Y8, Y8, power; \
	VMULPD      Y15, power, power

// func realPowersAVX2(dst *[8]*float64, re, im *float64, scale *[8]float64, n, groups, apart, step int)
//
// Bins 4j + r lie at j·step + r·apart for r from 0 to 3, their mirror images
// n − 4j − r at (n/4 − j)·step for r = 0 and otherwise a step before and (4 − r)·apart
// behind that.
TEXT ·realPowersAVX2(SB), NOSPLIT, $0-64
	MOVQ re+8(FP), SI
	MOVQ im+16(FP), DI
	MOVQ scale+24(FP), AX
	MOVQ n+32(FP), R8
	MOVQ groups+40(FP), CX
	MOVQ apart+48(FP), R12
	MOVQ step+56(FP), R15

	VBROADCASTSD quarter<>(SB), Y0
	VMULPD       (AX), Y0, Y14
	VMULPD       32(AX), Y0, Y15

	SHLQ  $5, R12
	LEAQ  (R12)(R12*2), R13
	SHLQ  $5, R15
	SHRQ  $2, R8
	DECQ  R8 // j = 1
	IMULQ R15, R8
	MOVQ  R8, R9
	ADDQ  SI, R8
	ADDQ  DI, R9
	ADDQ  R15, SI
	ADDQ  R15, DI

	MOVQ dst+0(FP), DX
	XORQ BX, BX

bins:
	EVEN((SI), (DI), (R8), (R9), Y0)
	ODD((SI), (DI), (R8), (R9), Y12)
	SUBQ R15, R8
	SUBQ R15, R9
	EVEN((SI)(R12*1), (DI)(R12*1), (R8)(R13*1), (R9)(R13*1), Y1)
	EVEN((SI)(R12*2), (DI)(R12*2), (R8)(R12*2), (R9)(R12*2), Y2)
	EVEN((SI)(R13*1), (DI)(R13*1), (R8)(R12*1), (R9)(R12*1), Y3)
	TRANSPOSE
	MOVQ    0(DX), AX
	VMOVUPD Y4, (AX)(BX*8)
	MOVQ    8(DX), AX
	VMOVUPD Y5, (AX)(BX*8)
	MOVQ    16(DX), AX
	VMOVUPD Y6, (AX)(BX*8)
	MOVQ    24(DX), AX
	VMOVUPD Y7, (AX)(BX*8)
	ODD((SI)(R12*1), (DI)(R12*1), (R8)(R13*1), (R9)(R13*1), Y1)
	ODD((SI)(R12*2), (DI)(R12*2), (R8)(R12*2), (R9)(R12*2), Y2)
	ODD((SI)(R13*1), (DI)(R13*1), (R8)(R12*1), (R9)(R12*1), Y3)
	VMOVAPD Y12, Y0
	TRANSPOSE
	MOVQ    32(DX), AX
	VMOVUPD Y4, (AX)(BX*8)
	MOVQ    40(DX), AX
	VMOVUPD Y5, (AX)(BX*8)
	MOVQ    48(DX), AX
	VMOVUPD Y6, (AX)(BX*8)
	MOVQ    56(DX), AX
	VMOVUPD Y7, (AX)(BX*8)
	ADDQ    R15, SI
	ADDQ    R15, DI
	ADDQ    $4, BX
	DECQ    CX
	JNZ     bins
	VZEROUPPER
	RET
