//go:build !purego

#include "textflag.h"

// One section: the input in Y0 becomes the output.
#define SECTION(b0, b1, b2, a1, a2, z1, z2, y) \
	VMOVAPD      z1, y; \
	VFMADD231PD  b0, Y0, y; \
	VMOVAPD      z2, z1; \
	VFMADD231PD  b1, Y0, z1; \
	VFNMADD231PD a1, y, z1; \
	VMULPD       b2, Y0, z2; \
	VFNMADD231PD a2, y, z2

// func cascadeAVX2(x *float64, n, step int, sections *[2]Section, states *[2]State)
TEXT ·cascadeAVX2(SB), NOSPLIT, $0-40
	MOVQ         x+0(FP), SI
	MOVQ         n+8(FP), CX
	MOVQ         step+16(FP), R8
	MOVQ         sections+24(FP), DX
	MOVQ         states+32(FP), DI
	VBROADCASTSD (DX), Y6
	VBROADCASTSD 8(DX), Y7
	VBROADCASTSD 16(DX), Y8
	VBROADCASTSD 24(DX), Y9
	VBROADCASTSD 32(DX), Y10
	VBROADCASTSD 40(DX), Y11
	VBROADCASTSD 48(DX), Y12
	VBROADCASTSD 56(DX), Y13
	VBROADCASTSD 64(DX), Y14
	VBROADCASTSD 72(DX), Y15
	VMOVUPD      (DI), Y2
	VMOVUPD      32(DI), Y3
	VMOVUPD      64(DI), Y4
	VMOVUPD      96(DI), Y5

elements:
	VMOVUPD (SI), Y0
	SECTION(Y6, Y7, Y8, Y9, Y10, Y2, Y3, Y1)
	VMOVAPD Y1, Y0
	SECTION(Y11, Y12, Y13, Y14, Y15, Y4, Y5, Y1)
	VMOVUPD Y1, (SI)
	ADDQ    R8, SI
	DECQ    CX
	JNZ     elements
	VMOVUPD Y2, (DI)
	VMOVUPD Y3, 32(DI)
	VMOVUPD Y4, 64(DI)
	VMOVUPD Y5, 96(DI)
	VZEROUPPER
	RET
