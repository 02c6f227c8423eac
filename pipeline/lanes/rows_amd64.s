#include "textflag.h"

// func weighAVX2(dst, x, weights *float64, offset float64, n int)
TEXT ·weighAVX2(SB), NOSPLIT, $0-40
	MOVQ         dst+0(FP), DI
	MOVQ         x+8(FP), SI
	MOVQ         weights+16(FP), DX
	VBROADCASTSD offset+24(FP), Y1
	MOVQ         n+32(FP), CX
	XORQ         AX, AX

four:
	VMOVUPD (SI)(AX*8), Y0
	VSUBPD  Y1, Y0, Y0
	VMULPD  (DX)(AX*8), Y0, Y0
	VMOVUPD Y0, (DI)(AX*8)
	ADDQ    $4, AX
	CMPQ    AX, CX
	JLT     four
	VZEROUPPER
	RET

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
	VMOVUPD    (R8)(AX*8), Y0
	VMOVUPD    (R9)(AX*8), Y1
	VMOVUPD    (R10)(AX*8), Y2
	VMOVUPD    (R11)(AX*8), Y3
	VUNPCKLPD  Y1, Y0, Y4 // a0 b0 a2 b2
	VUNPCKHPD  Y1, Y0, Y5 // a1 b1 a3 b3
	VUNPCKLPD  Y3, Y2, Y6
	VUNPCKHPD  Y3, Y2, Y7
	VPERM2F128 $0x20, Y6, Y4, Y0
	VPERM2F128 $0x20, Y7, Y5, Y1
	VPERM2F128 $0x31, Y6, Y4, Y2
	VPERM2F128 $0x31, Y7, Y5, Y3
	VMOVUPD    Y0, (DI)
	VMOVUPD    Y1, 32(DI)
	VMOVUPD    Y2, 64(DI)
	VMOVUPD    Y3, 96(DI)
	ADDQ       $128, DI
	ADDQ       $4, AX
	CMPQ       AX, CX
	JLT        four
	VZEROUPPER
	RET
