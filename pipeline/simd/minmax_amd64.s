//go:build !purego

#include "textflag.h"

// func minMaxAVX2(lows, highs *[parts]float64, x *float64, n int)
TEXT ·minMaxAVX2(SB), NOSPLIT, $0-32
	MOVQ    lows+0(FP), DI
	MOVQ    highs+8(FP), DX
	MOVQ    x+16(FP), SI
	MOVQ    n+24(FP), CX
	VMOVUPD (DI), Y0
	VMOVUPD 32(DI), Y1
	VMOVUPD (DX), Y2
	VMOVUPD 32(DX), Y3

eight:
	// Of a value that is NaN, and of equals, what was there stays.
	VMOVUPD (SI), Y4
	VMOVUPD 32(SI), Y5
	VMINPD  Y0, Y4, Y0
	VMINPD  Y1, Y5, Y1
	VMAXPD  Y2, Y4, Y2
	VMAXPD  Y3, Y5, Y3
	ADDQ    $64, SI
	SUBQ    $8, CX
	JNZ     eight

	VMOVUPD Y0, (DI)
	VMOVUPD Y1, 32(DI)
	VMOVUPD Y2, (DX)
	VMOVUPD Y3, 32(DX)
	VZEROUPPER
	RET
