#include "textflag.h"

// func addMomentsAVX2(sums *[3][parts]float64, x *float64, n int, centre float64)
//
// Y0 and Y1 hold the sums of squares, Y2 and Y3 those of cubes, Y4 and Y5 those of
// fourth powers.
TEXT ·addMomentsAVX2(SB), NOSPLIT, $0-32
	MOVQ         sums+0(FP), DI
	MOVQ         x+8(FP), SI
	MOVQ         n+16(FP), CX
	VBROADCASTSD centre+24(FP), Y15
	VMOVUPD      (DI), Y0
	VMOVUPD      32(DI), Y1
	VMOVUPD      64(DI), Y2
	VMOVUPD      96(DI), Y3
	VMOVUPD      128(DI), Y4
	VMOVUPD      160(DI), Y5

eight:
	VMOVUPD     (SI), Y6
	VMOVUPD     32(SI), Y7
	VSUBPD      Y15, Y6, Y6
	VSUBPD      Y15, Y7, Y7
	VMULPD      Y6, Y6, Y8
	VMULPD      Y7, Y7, Y9
	VFMADD231PD Y6, Y6, Y0
	VFMADD231PD Y7, Y7, Y1
	VFMADD231PD Y6, Y8, Y2
	VFMADD231PD Y7, Y9, Y3
	VFMADD231PD Y8, Y8, Y4
	VFMADD231PD Y9, Y9, Y5
	ADDQ        $64, SI
	SUBQ        $8, CX
	JNZ         eight

	VMOVUPD Y0, (DI)
	VMOVUPD Y1, 32(DI)
	VMOVUPD Y2, 64(DI)
	VMOVUPD Y3, 96(DI)
	VMOVUPD Y4, 128(DI)
	VMOVUPD Y5, 160(DI)
	VZEROUPPER
	RET

// func takeLimitsAVX2(lows, highs *[parts]float64, x *float64, n int)
TEXT ·takeLimitsAVX2(SB), NOSPLIT, $0-32
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
