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

// func separateAVX2(a, b, c, d, src *float64, n int)
TEXT ·separateAVX2(SB), NOSPLIT, $0-48
	MOVQ a+0(FP), R8
	MOVQ b+8(FP), R9
	MOVQ c+16(FP), R10
	MOVQ d+24(FP), R11
	MOVQ src+32(FP), SI
	MOVQ n+40(FP), CX
	XORQ AX, AX

four:
	VMOVUPD    (SI), Y0
	VMOVUPD    32(SI), Y1
	VMOVUPD    64(SI), Y2
	VMOVUPD    96(SI), Y3
	VUNPCKLPD  Y1, Y0, Y4 // a0 a1 c0 c1
	VUNPCKHPD  Y1, Y0, Y5 // b0 b1 d0 d1
	VUNPCKLPD  Y3, Y2, Y6
	VUNPCKHPD  Y3, Y2, Y7
	VPERM2F128 $0x20, Y6, Y4, Y0
	VPERM2F128 $0x20, Y7, Y5, Y1
	VPERM2F128 $0x31, Y6, Y4, Y2
	VPERM2F128 $0x31, Y7, Y5, Y3
	VMOVUPD    Y0, (R8)(AX*8)
	VMOVUPD    Y1, (R9)(AX*8)
	VMOVUPD    Y2, (R10)(AX*8)
	VMOVUPD    Y3, (R11)(AX*8)
	ADDQ       $128, SI
	ADDQ       $4, AX
	CMPQ       AX, CX
	JLT        four
	VZEROUPPER
	RET

// func unzipAVX2(even, odd, x *float64, n int)
TEXT ·unzipAVX2(SB), NOSPLIT, $0-32
	MOVQ even+0(FP), DI
	MOVQ odd+8(FP), DX
	MOVQ x+16(FP), SI
	MOVQ n+24(FP), CX
	XORQ AX, AX

four:
	VMOVUPD    (SI), Y0
	VMOVUPD    32(SI), Y1
	VPERM2F128 $0x20, Y1, Y0, Y2 // 0 1 4 5
	VPERM2F128 $0x31, Y1, Y0, Y3 // 2 3 6 7
	VUNPCKLPD  Y3, Y2, Y0
	VUNPCKHPD  Y3, Y2, Y1
	VMOVUPD    Y0, (DI)(AX*8)
	VMOVUPD    Y1, (DX)(AX*8)
	ADDQ       $64, SI
	ADDQ       $4, AX
	CMPQ       AX, CX
	JLT        four
	VZEROUPPER
	RET

// func zipAVX2(x, even, odd *float64, n int)
TEXT ·zipAVX2(SB), NOSPLIT, $0-32
	MOVQ x+0(FP), DI
	MOVQ even+8(FP), SI
	MOVQ odd+16(FP), DX
	MOVQ n+24(FP), CX
	XORQ AX, AX

four:
	VMOVUPD    (SI)(AX*8), Y0
	VMOVUPD    (DX)(AX*8), Y1
	VUNPCKLPD  Y1, Y0, Y2 // 0 1 4 5
	VUNPCKHPD  Y1, Y0, Y3 // 2 3 6 7
	VPERM2F128 $0x20, Y3, Y2, Y0
	VPERM2F128 $0x31, Y3, Y2, Y1
	VMOVUPD    Y0, (DI)
	VMOVUPD    Y1, 32(DI)
	ADDQ       $64, DI
	ADDQ       $4, AX
	CMPQ       AX, CX
	JLT        four
	VZEROUPPER
	RET

// func magnitudesAVX2(dst, a, b *float64, n int)
TEXT ·magnitudesAVX2(SB), NOSPLIT, $0-32
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
