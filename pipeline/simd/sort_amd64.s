//go:build !purego

#include "textflag.h"

// func compareExchangeAVX2(x *float64, end, first, block, distance int)
//
// AX is i, CX the end of the block, in elements of four numbers.
TEXT ·compareExchangeAVX2(SB), NOSPLIT, $0-40
	MOVQ x+0(FP), SI
	MOVQ end+8(FP), DX
	MOVQ first+16(FP), AX
	MOVQ block+24(FP), BX
	MOVQ distance+32(FP), DI
	SHLQ $5, DI
	ADDQ SI, DI
	CMPQ AX, DX
	JGE  done

part:
	LEAQ    (AX)(BX*1), CX
	CMPQ    CX, DX
	CMOVQGT DX, CX
	MOVQ    AX, R8
	SHLQ    $5, R8

pair:
	VMOVUPD (SI)(R8*1), Y0
	VMOVUPD (DI)(R8*1), Y1
	VMINPD  Y1, Y0, Y2
	VMAXPD  Y0, Y1, Y3
	VMOVUPD Y2, (SI)(R8*1)
	VMOVUPD Y3, (DI)(R8*1)
	ADDQ    $32, R8
	INCQ    AX
	CMPQ    AX, CX
	JLT     pair

	ADDQ BX, AX
	CMPQ AX, DX
	JLT  part

done:
	VZEROUPPER
	RET
