#include "textflag.h"

// func int16sAVX2(dst *float64, src *byte, scale float64, n int)
TEXT ·int16sAVX2(SB), NOSPLIT, $0-32
	MOVQ         dst+0(FP), DI
	MOVQ         src+8(FP), SI
	VBROADCASTSD scale+16(FP), Y2
	MOVQ         n+24(FP), CX
	XORQ         AX, AX

four:
	VPMOVSXWD (SI)(AX*2), X0
	VCVTDQ2PD X0, Y0
	VMULPD    Y2, Y0, Y0
	VMOVUPD   Y0, (DI)(AX*8)
	ADDQ      $4, AX
	CMPQ      AX, CX
	JLT       four
	VZEROUPPER
	RET
