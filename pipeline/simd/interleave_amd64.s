//go:build !purego

#include "textflag.h"
#include "transpose_amd64.h"

// func interleaveAVX2(dst, a, b, c, d *float64, n int)
TEXT ·interleaveAVX2(SB), NOSPLIT, $0-48
	MOVQ dst+0(FP), DI
	MOVQ a+8(FP), R8
	MOVQ b+16(FP), R9
	MOVQ c+24(FP), R10
	MOVQ d+32(FP), R11
	MOVQ n+40(FP), CX
	XORQ AX, AX

four:
	VMOVUPD (R8)(AX*8), Y0
	VMOVUPD (R9)(AX*8), Y1
	VMOVUPD (R10)(AX*8), Y2
	VMOVUPD (R11)(AX*8), Y3
	TRANSPOSE
	VMOVUPD Y4, (DI)
	VMOVUPD Y5, 32(DI)
	VMOVUPD Y6, 64(DI)
	VMOVUPD Y7, 96(DI)
	ADDQ    $128, DI
	ADDQ    $4, AX
	CMPQ    AX, CX
	JLT     four
	VZEROUPPER
	RET
