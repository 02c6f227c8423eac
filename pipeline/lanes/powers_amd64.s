#include "textflag.h"

DATA quarter<>+0(SB)/8, $0.25
GLOBL quarter<>(SB), RODATA|NOPTR, $8

// Four vectors of one bin each to four of one sequence each: Y0 to Y3 to Y4 to Y7.
#define TRANSPOSE \
	VUNPCKLPD  Y1, Y0, Y8; \
	VUNPCKHPD  Y1, Y0, Y9; \
	VUNPCKLPD  Y3, Y2, Y10; \
	VUNPCKHPD  Y3, Y2, Y11; \
	VPERM2F128 $0x20, Y10, Y8, Y4; \
	VPERM2F128 $0x20, Y11, Y9, Y5; \
	VPERM2F128 $0x31, Y10, Y8, Y6; \
	VPERM2F128 $0x31, Y11, Y9, Y7

// scale·(re² + im²) to power, of the bin at offset from SI and DI up and the one
// at offset from R8 and R9 down.
#define EVEN(offset, power) \
	VMOVUPD     offset(SI), Y8; \
	VADDPD      -offset(R8), Y8, Y8; \
	VMOVUPD     offset(DI), Y9; \
	VSUBPD      -offset(R9), Y9, Y9; \
	VMULPD      Y9, Y9, power; \
	VFMADD231PD Y8, Y8, power; \
	VMULPD      Y14, power, power

#define ODD(offset, power) \
	VMOVUPD     offset(DI), Y8; \
	VADDPD      -offset(R9), Y8, Y8; \
	VMOVUPD     offset(SI), Y9; \
	VSUBPD      -offset(R8), Y9, Y9; \
	VMULPD      Y9, Y9, power; \
	VFMADD231PD Y8, Y8, power; \
	VMULPD      Y15, power, power

// func realPowersAVX2(dst *[8]*float64, re, im *float64, scale *[8]float64, n, count int)
TEXT ·realPowersAVX2(SB), NOSPLIT, $0-48
	MOVQ re+8(FP), SI
	MOVQ im+16(FP), DI
	MOVQ scale+24(FP), AX
	MOVQ n+32(FP), R8
	MOVQ count+40(FP), CX

	VBROADCASTSD quarter<>(SB), Y0
	VMULPD       (AX), Y0, Y14
	VMULPD       32(AX), Y0, Y15

	// Bin 1 and bin n − 1.
	SHLQ $5, R8
	SUBQ $32, R8
	MOVQ R8, R9
	ADDQ SI, R8
	ADDQ DI, R9
	ADDQ $32, SI
	ADDQ $32, DI

	MOVQ dst+0(FP), DX
	XORQ BX, BX

bins:
	EVEN(0, Y0)
	EVEN(32, Y1)
	EVEN(64, Y2)
	EVEN(96, Y3)
	TRANSPOSE
	MOVQ    0(DX), R10
	MOVQ    8(DX), R11
	MOVQ    16(DX), R12
	MOVQ    24(DX), R13
	VMOVUPD Y4, (R10)(BX*8)
	VMOVUPD Y5, (R11)(BX*8)
	VMOVUPD Y6, (R12)(BX*8)
	VMOVUPD Y7, (R13)(BX*8)
	ODD(0, Y0)
	ODD(32, Y1)
	ODD(64, Y2)
	ODD(96, Y3)
	TRANSPOSE
	MOVQ    32(DX), R10
	MOVQ    40(DX), R11
	MOVQ    48(DX), R12
	MOVQ    56(DX), R13
	VMOVUPD Y4, (R10)(BX*8)
	VMOVUPD Y5, (R11)(BX*8)
	VMOVUPD Y6, (R12)(BX*8)
	VMOVUPD Y7, (R13)(BX*8)
	ADDQ    $128, SI
	ADDQ    $128, DI
	SUBQ    $128, R8
	SUBQ    $128, R9
	ADDQ    $4, BX
	CMPQ    BX, CX
	JLT     bins
	VZEROUPPER
	RET
