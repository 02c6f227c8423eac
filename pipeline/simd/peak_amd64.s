#include "textflag.h"

// func peaksAVX2(peak *[4]float64, x *float64, n int)
//
// Y0 to Y3 hold the greatest of every fourth four values.
TEXT ·peaksAVX2(SB), NOSPLIT, $0-24
	MOVQ     peak+0(FP), DI
	MOVQ     x+8(FP), SI
	MOVQ     n+16(FP), CX
	VPCMPEQQ Y15, Y15, Y15
	VPSRLQ   $1, Y15, Y15 // all bits but the sign
	VPXOR    Y0, Y0, Y0
	VPXOR    Y1, Y1, Y1
	VPXOR    Y2, Y2, Y2
	VPXOR    Y3, Y3, Y3

sixteen:
	VPAND     (SI), Y15, Y4
	VPAND     32(SI), Y15, Y5
	VPAND     64(SI), Y15, Y6
	VPAND     96(SI), Y15, Y7
	VPCMPGTQ  Y0, Y4, Y8
	VPCMPGTQ  Y1, Y5, Y9
	VPCMPGTQ  Y2, Y6, Y10
	VPCMPGTQ  Y3, Y7, Y11
	VBLENDVPD Y8, Y4, Y0, Y0
	VBLENDVPD Y9, Y5, Y1, Y1
	VBLENDVPD Y10, Y6, Y2, Y2
	VBLENDVPD Y11, Y7, Y3, Y3
	ADDQ      $128, SI
	SUBQ      $16, CX
	JNZ       sixteen

	VPCMPGTQ  Y0, Y1, Y8
	VPCMPGTQ  Y2, Y3, Y9
	VBLENDVPD Y8, Y1, Y0, Y0
	VBLENDVPD Y9, Y3, Y2, Y2
	VPCMPGTQ  Y0, Y2, Y8
	VBLENDVPD Y8, Y2, Y0, Y0
	VMOVUPD   Y0, (DI)
	VZEROUPPER
	RET
