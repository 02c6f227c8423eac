#include "textflag.h"

// Four copies of a constant.
#define CONSTANT(name, bits) \
	DATA name<>+0(SB)/8, $bits; \
	DATA name<>+8(SB)/8, $bits; \
	DATA name<>+16(SB)/8, $bits; \
	DATA name<>+24(SB)/8, $bits; \
	GLOBL name<>(SB), RODATA|NOPTR, $32

CONSTANT(beforeNormal, 0x000fffffffffffff)
CONSTANT(infinity, 0x7ff0000000000000)
CONSTANT(sqrtHalf, 0x3fe6a09e667f3bcd)
CONSTANT(one, 0x3ff0000000000000)
CONSTANT(two, 0x4000000000000000)
CONSTANT(exponent, 0xfff0000000000000)
CONSTANT(whole, 0x4330000000000000)
CONSTANT(bias, 0x43300000000003ff)
CONSTANT(ln2High, 0x3fe62e42fefa0000)
CONSTANT(ln2Low, 0x3d7cf79abc9e3b3a)
CONSTANT(c21, 0x3fb8618618618618)
CONSTANT(c19, 0x3fbaf286bca1af28)
CONSTANT(c17, 0x3fbe1e1e1e1e1e1e)
CONSTANT(c15, 0x3fc1111111111111)
CONSTANT(c13, 0x3fc3b13b13b13b14)
CONSTANT(c11, 0x3fc745d1745d1746)
CONSTANT(c9, 0x3fcc71c71c71c71c)
CONSTANT(c7, 0x3fd2492492492492)
CONSTANT(c5, 0x3fd999999999999a)
CONSTANT(c3, 0x3fe5555555555555)

// func logAVX2(dst, x *float64, n int) int
//
// The steps are those of logOne.
TEXT ·logAVX2(SB), NOSPLIT, $0-32
	MOVQ dst+0(FP), DI
	MOVQ x+8(FP), SI
	MOVQ n+16(FP), CX
	XORQ AX, AX
	VMOVUPD one<>(SB), Y15
	VMOVUPD sqrtHalf<>(SB), Y14
	VMOVUPD exponent<>(SB), Y13
	VMOVUPD whole<>(SB), Y12
	VMOVUPD bias<>(SB), Y11
	VMOVUPD two<>(SB), Y10

four:
	VMOVDQU   (SI)(AX*8), Y0
	VPCMPGTQ  beforeNormal<>(SB), Y0, Y1
	VMOVDQU   infinity<>(SB), Y2
	VPCMPGTQ  Y0, Y2, Y2
	VPAND     Y1, Y2, Y1
	VMOVMSKPD Y1, R8
	CMPQ      R8, $15
	JNE       done

	// Y1 = e, Y2 = f.
	VPSUBQ Y14, Y0, Y1
	VPADDQ Y15, Y1, Y1
	VPAND  Y13, Y1, Y2
	VPSUBQ Y2, Y0, Y2
	VPADDQ Y15, Y2, Y2
	VSUBPD Y15, Y2, Y2
	VPSRLQ $52, Y1, Y1
	VPOR   Y12, Y1, Y1
	VSUBPD Y11, Y1, Y1

	// Y3 = s, Y4 = s².
	VADDPD Y10, Y2, Y3
	VDIVPD Y3, Y2, Y3
	VMULPD Y3, Y3, Y4

	VMOVUPD     c21<>(SB), Y5
	VFMADD213PD c19<>(SB), Y4, Y5
	VFMADD213PD c17<>(SB), Y4, Y5
	VFMADD213PD c15<>(SB), Y4, Y5
	VFMADD213PD c13<>(SB), Y4, Y5
	VFMADD213PD c11<>(SB), Y4, Y5
	VFMADD213PD c9<>(SB), Y4, Y5
	VFMADD213PD c7<>(SB), Y4, Y5
	VFMADD213PD c5<>(SB), Y4, Y5
	VFMADD213PD c3<>(SB), Y4, Y5

	VFNMADD213PD Y2, Y4, Y5 // r
	VMULPD       Y5, Y3, Y3
	VFMSUB231PD  ln2Low<>(SB), Y1, Y3 // e·ln2Low − s·r
	VADDPD       Y3, Y2, Y2
	VMULPD       ln2High<>(SB), Y1, Y1
	VADDPD       Y2, Y1, Y1
	VMOVUPD      Y1, (DI)(AX*8)
	ADDQ         $4, AX
	CMPQ         AX, CX
	JLT          four

done:
	MOVQ AX, ret+24(FP)
	VZEROUPPER
	RET
