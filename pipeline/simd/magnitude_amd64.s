//go:build !purego

#include "textflag.h"

// func magnitudeAVX2(dst, a, b *float64, n int)
TEXT ·magnitudeAVX2(SB), NOSPLIT, $0-32
	MOVQ dst+0(FP), DI
	MOVQ a+8(FP), SI
	MOVQ b+16(FP), DX
	MOVQ n+24(FP), CX
	XORQ AX, AX

four:
	VMOVUPD     (SI)(AX*8), Y0
	VMOVUPD     (DX)(AX*8), Y1
	VMULPD      Y1, Y1, Y1
	VFMADD231PD Y0, Y0, Y1
	VSQRTPD     Y1, Y1
	VMOVUPD     Y1, (DI)(AX*8)
	ADDQ        $4, AX
	CMPQ        AX, CX
	JLT         four
	VZEROUPPER
	RET
