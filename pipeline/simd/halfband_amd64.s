//go:build !purego

#include "textflag.h"

// func halfBandAVX2(dst, even, odd, sides *float64, middle float64, n, k int)
//
// Sixteen values at a time, then four: each lane is a value of its own.
TEXT ·halfBandAVX2(SB), NOSPLIT, $0-56
	MOVQ         dst+0(FP), DI
	MOVQ         even+8(FP), BX
	MOVQ         odd+16(FP), SI
	MOVQ         sides+24(FP), DX
	VBROADCASTSD middle+32(FP), Y5
	MOVQ         n+40(FP), CX
	MOVQ         k+48(FP), R8
	SUBQ         $16, CX
	JLT          few

many:
	VMULPD (BX), Y5, Y0
	VMULPD 32(BX), Y5, Y1
	VMULPD 64(BX), Y5, Y2
	VMULPD 96(BX), Y5, Y3
	MOVQ   SI, R10
	MOVQ   DX, R11
	MOVQ   R8, AX

manyTaps:
	VBROADCASTSD (R11), Y4
	VFMADD231PD  (R10), Y4, Y0
	VFMADD231PD  32(R10), Y4, Y1
	VFMADD231PD  64(R10), Y4, Y2
	VFMADD231PD  96(R10), Y4, Y3
	ADDQ         $8, R11
	ADDQ         $8, R10
	DECQ         AX
	JNZ          manyTaps
	VMOVUPD      Y0, (DI)
	VMOVUPD      Y1, 32(DI)
	VMOVUPD      Y2, 64(DI)
	VMOVUPD      Y3, 96(DI)
	ADDQ         $128, BX
	ADDQ         $128, DI
	ADDQ         $128, SI
	SUBQ         $16, CX
	JGE          many

few:
	ADDQ $16, CX
	JZ   done

four:
	VMULPD (BX), Y5, Y0
	MOVQ   SI, R10
	MOVQ   DX, R11
	MOVQ   R8, AX

fourTaps:
	VBROADCASTSD (R11), Y4
	VFMADD231PD  (R10), Y4, Y0
	ADDQ         $8, R11
	ADDQ         $8, R10
	DECQ         AX
	JNZ          fourTaps
	VMOVUPD      Y0, (DI)
	ADDQ         $32, BX
	ADDQ         $32, DI
	ADDQ         $32, SI
	SUBQ         $4, CX
	JNZ          four

done:
	VZEROUPPER
	RET
