#include "textflag.h"

// Four copies of a constant.
#define CONSTANT(name, bits) \
	DATA name<>+0(SB)/8, $bits; \
	DATA name<>+8(SB)/8, $bits; \
	DATA name<>+16(SB)/8, $bits; \
	DATA name<>+24(SB)/8, $bits; \
	GLOBL name<>(SB), RODATA|NOPTR, $32

CONSTANT(magnitude, 0x7fffffffffffffff)
CONSTANT(limit, 0x4086200000000000)
CONSTANT(log2e, 0x3ff71547652b82fe)
CONSTANT(wholeAndHalf, 0x4338000000000000)
CONSTANT(one, 0x3ff0000000000000)
CONSTANT(ln2High, 0x3fe62e42fefa0000)
CONSTANT(ln2Low, 0x3d7cf79abc9e3b3a)
CONSTANT(c13, 0x3de6124613a86d09)
CONSTANT(c12, 0x3e21eed8eff8d898)
CONSTANT(c11, 0x3e5ae64567f544e4)
CONSTANT(c10, 0x3e927e4fb7789f5c)
CONSTANT(c9, 0x3ec71de3a556c734)
CONSTANT(c8, 0x3efa01a01a01a01a)
CONSTANT(c7, 0x3f2a01a01a01a01a)
CONSTANT(c6, 0x3f56c16c16c16c17)
CONSTANT(c5, 0x3f81111111111111)
CONSTANT(c4, 0x3fa5555555555555)
CONSTANT(c3, 0x3fc5555555555555)
CONSTANT(c2, 0x3fe0000000000000)

// func expAVX2(dst, x *float64, n int) int
//
// The steps are those of expOne.
TEXT ·expAVX2(SB), NOSPLIT, $0-32
	MOVQ    dst+0(FP), DI
	MOVQ    x+8(FP), SI
	MOVQ    n+16(FP), CX
	XORQ    AX, AX
	VMOVUPD magnitude<>(SB), Y15
	VMOVUPD limit<>(SB), Y14
	VMOVUPD log2e<>(SB), Y13
	VMOVUPD wholeAndHalf<>(SB), Y12
	VMOVUPD ln2High<>(SB), Y11
	VMOVUPD ln2Low<>(SB), Y10
	VMOVUPD one<>(SB), Y9

four:
	VMOVUPD   (SI)(AX*8), Y0
	VANDPD    Y15, Y0, Y1
	VCMPPD    $1, Y14, Y1, Y1 // less
	VMOVMSKPD Y1, R8
	CMPQ      R8, $15
	JNE       done

	// Y1 holds n in its last bits, Y0 = r.
	VMOVAPD      Y13, Y1
	VFMADD213PD  Y12, Y0, Y1
	VSUBPD       Y12, Y1, Y2
	VFNMADD231PD Y11, Y2, Y0
	VFNMADD231PD Y10, Y2, Y0

	VMOVUPD     c13<>(SB), Y3
	VFMADD213PD c12<>(SB), Y0, Y3
	VFMADD213PD c11<>(SB), Y0, Y3
	VFMADD213PD c10<>(SB), Y0, Y3
	VFMADD213PD c9<>(SB), Y0, Y3
	VFMADD213PD c8<>(SB), Y0, Y3
	VFMADD213PD c7<>(SB), Y0, Y3
	VFMADD213PD c6<>(SB), Y0, Y3
	VFMADD213PD c5<>(SB), Y0, Y3
	VFMADD213PD c4<>(SB), Y0, Y3
	VFMADD213PD c3<>(SB), Y0, Y3
	VFMADD213PD c2<>(SB), Y0, Y3

	VMULPD      Y0, Y0, Y4
	VFMADD213PD Y0, Y4, Y3 // r²·p + r
	VADDPD      Y9, Y3, Y3
	VPSLLQ      $52, Y1, Y1
	VPADDQ      Y1, Y3, Y3
	VMOVUPD     Y3, (DI)(AX*8)
	ADDQ        $4, AX
	CMPQ        AX, CX
	JLT         four

done:
	MOVQ AX, ret+24(FP)
	VZEROUPPER
	RET
