//go:build !purego

#include "textflag.h"

// tail<>+32−8m holds the mask of the first m of four values.
DATA tail<>+0(SB)/8, $-1
DATA tail<>+8(SB)/8, $-1
DATA tail<>+16(SB)/8, $-1
DATA tail<>+24(SB)/8, $-1
DATA tail<>+32(SB)/8, $0
DATA tail<>+40(SB)/8, $0
DATA tail<>+48(SB)/8, $0
DATA tail<>+56(SB)/8, $0
GLOBL tail<>(SB), RODATA|NOPTR, $64

// Y0 to Y3 are the sixteen sums of Dot and Sum.
#define NONE \
	VXORPD Y0, Y0, Y0; \
	VXORPD Y1, Y1, Y1; \
	VXORPD Y2, Y2, Y2; \
	VXORPD Y3, Y3, Y3

// CX becomes the number of values that are left, less than sixteen, and Y8 the mask
// of those behind whole fours.
#define LEFT \
	ADDQ    $16, CX; \
	MOVQ    CX, BX; \
	ANDQ    $3, BX; \
	LEAQ    tail<>+32(SB), AX; \
	SHLQ    $3, BX; \
	SUBQ    BX, AX; \
	VMOVDQU (AX), Y8

// X0 becomes all of them.
#define ALL \
	VADDPD       Y1, Y0, Y0; \
	VADDPD       Y3, Y2, Y2; \
	VADDPD       Y2, Y0, Y0; \
	VEXTRACTF128 $1, Y0, X1; \
	VHADDPD      X1, X0, X0; \
	VPERMILPD    $1, X0, X1; \
	VADDSD       X1, X0, X0

// func dotAVX2(a, b *float64, n int) float64
TEXT ·dotAVX2(SB), NOSPLIT, $0-32
	MOVQ   a+0(FP), SI
	MOVQ   b+8(FP), DI
	MOVQ   n+16(FP), CX
	NONE
	SUBQ   $16, CX
	JLT    rest

sixteen:
	VMOVUPD     (SI), Y4
	VMOVUPD     32(SI), Y5
	VMOVUPD     64(SI), Y6
	VMOVUPD     96(SI), Y7
	VFMADD231PD (DI), Y4, Y0
	VFMADD231PD 32(DI), Y5, Y1
	VFMADD231PD 64(DI), Y6, Y2
	VFMADD231PD 96(DI), Y7, Y3
	ADDQ        $128, SI
	ADDQ        $128, DI
	SUBQ        $16, CX
	JGE         sixteen

rest:
	LEFT
	CMPQ        CX, $4
	JLT         last0
	VMOVUPD     (SI), Y4
	VFMADD231PD (DI), Y4, Y0
	CMPQ        CX, $8
	JLT         last1
	VMOVUPD     32(SI), Y5
	VFMADD231PD 32(DI), Y5, Y1
	CMPQ        CX, $12
	JLT         last2
	VMOVUPD     64(SI), Y6
	VFMADD231PD 64(DI), Y6, Y2
	VMASKMOVPD  96(SI), Y8, Y4
	VMASKMOVPD  96(DI), Y8, Y5
	VFMADD231PD Y5, Y4, Y3
	JMP         add

last2:
	VMASKMOVPD  64(SI), Y8, Y4
	VMASKMOVPD  64(DI), Y8, Y5
	VFMADD231PD Y5, Y4, Y2
	JMP         add

last1:
	VMASKMOVPD  32(SI), Y8, Y4
	VMASKMOVPD  32(DI), Y8, Y5
	VFMADD231PD Y5, Y4, Y1
	JMP         add

last0:
	VMASKMOVPD  (SI), Y8, Y4
	VMASKMOVPD  (DI), Y8, Y5
	VFMADD231PD Y5, Y4, Y0

add:
	ALL
	VMOVSD       X0, ret+24(FP)
	VZEROUPPER
	RET

// func sumAVX2(x *float64, n int) float64
TEXT ·sumAVX2(SB), NOSPLIT, $0-24
	MOVQ   x+0(FP), SI
	MOVQ   n+8(FP), CX
	NONE
	SUBQ   $16, CX
	JLT    rest

sixteen:
	VADDPD (SI), Y0, Y0
	VADDPD 32(SI), Y1, Y1
	VADDPD 64(SI), Y2, Y2
	VADDPD 96(SI), Y3, Y3
	ADDQ   $128, SI
	SUBQ   $16, CX
	JGE    sixteen

rest:
	LEFT
	CMPQ    CX, $4
	JLT     last0
	VADDPD  (SI), Y0, Y0
	CMPQ    CX, $8
	JLT     last1
	VADDPD  32(SI), Y1, Y1
	CMPQ    CX, $12
	JLT     last2
	VADDPD  64(SI), Y2, Y2
	VMASKMOVPD 96(SI), Y8, Y4
	VADDPD  Y4, Y3, Y3
	JMP     add

last2:
	VMASKMOVPD 64(SI), Y8, Y4
	VADDPD     Y4, Y2, Y2
	JMP        add

last1:
	VMASKMOVPD 32(SI), Y8, Y4
	VADDPD     Y4, Y1, Y1
	JMP        add

last0:
	VMASKMOVPD (SI), Y8, Y4
	VADDPD     Y4, Y0, Y0

add:
	ALL
	VMOVSD       X0, ret+16(FP)
	VZEROUPPER
	RET

// func correlateAVX2(dst, x, taps *float64, n, k, spacing int)
//
// Sixteen values at a time, then four: each lane is a value of its own.
TEXT ·correlateAVX2(SB), NOSPLIT, $0-48
	MOVQ dst+0(FP), DI
	MOVQ x+8(FP), SI
	MOVQ taps+16(FP), DX
	MOVQ n+24(FP), CX
	MOVQ k+32(FP), R8
	MOVQ spacing+40(FP), R9
	SHLQ $3, R9
	SUBQ $16, CX
	JLT  few

many:
	NONE
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
	ADDQ         R9, R10
	DECQ         AX
	JNZ          manyTaps
	VMOVUPD      Y0, (DI)
	VMOVUPD      Y1, 32(DI)
	VMOVUPD      Y2, 64(DI)
	VMOVUPD      Y3, 96(DI)
	ADDQ         $128, DI
	ADDQ         $128, SI
	SUBQ         $16, CX
	JGE          many

few:
	ADDQ $16, CX
	JZ   done

four:
	VXORPD Y0, Y0, Y0
	MOVQ   SI, R10
	MOVQ   DX, R11
	MOVQ   R8, AX

fourTaps:
	VBROADCASTSD (R11), Y4
	VFMADD231PD  (R10), Y4, Y0
	ADDQ         $8, R11
	ADDQ         R9, R10
	DECQ         AX
	JNZ          fourTaps
	VMOVUPD      Y0, (DI)
	ADDQ         $32, DI
	ADDQ         $32, SI
	SUBQ         $4, CX
	JNZ          four

done:
	VZEROUPPER
	RET

// func decimateAVX2(dst, x, taps *float64, n, k, step int)
//
// Eight values at a time; Y0 to Y7 each hold the four sums of one of them.
TEXT ·decimateAVX2(SB), NOSPLIT, $0-48
	MOVQ dst+0(FP), DI
	MOVQ x+8(FP), SI
	MOVQ taps+16(FP), DX
	MOVQ n+24(FP), CX
	MOVQ k+32(FP), R8
	MOVQ step+40(FP), R9
	SHLQ $3, R9
	LEAQ (R9)(R9*2), R12 // three steps
	SHRQ $2, R8

eight:
	VXORPD Y0, Y0, Y0
	VXORPD Y1, Y1, Y1
	VXORPD Y2, Y2, Y2
	VXORPD Y3, Y3, Y3
	VXORPD Y4, Y4, Y4
	VXORPD Y5, Y5, Y5
	VXORPD Y6, Y6, Y6
	VXORPD Y7, Y7, Y7
	MOVQ   SI, R10
	LEAQ   (SI)(R9*4), R13 // of the fifth value
	MOVQ   DX, R11
	MOVQ   R8, AX

taps:
	VMOVUPD     (R11), Y8
	VFMADD231PD (R10), Y8, Y0
	VFMADD231PD (R10)(R9*1), Y8, Y1
	VFMADD231PD (R10)(R9*2), Y8, Y2
	VFMADD231PD (R10)(R12*1), Y8, Y3
	VFMADD231PD (R13), Y8, Y4
	VFMADD231PD (R13)(R9*1), Y8, Y5
	VFMADD231PD (R13)(R9*2), Y8, Y6
	VFMADD231PD (R13)(R12*1), Y8, Y7
	ADDQ        $32, R10
	ADDQ        $32, R13
	ADDQ        $32, R11
	DECQ        AX
	JNZ         taps

	// (s0 + s1) + (s2 + s3) of each.
	VHADDPD    Y1, Y0, Y0
	VHADDPD    Y3, Y2, Y2
	VPERM2F128 $0x20, Y2, Y0, Y8 // the sums s0 + s1
	VPERM2F128 $0x31, Y2, Y0, Y9 // the sums s2 + s3
	VADDPD     Y9, Y8, Y0
	VMOVUPD    Y0, (DI)
	VHADDPD    Y5, Y4, Y4
	VHADDPD    Y7, Y6, Y6
	VPERM2F128 $0x20, Y6, Y4, Y8
	VPERM2F128 $0x31, Y6, Y4, Y9
	VADDPD     Y9, Y8, Y4
	VMOVUPD    Y4, 32(DI)
	ADDQ       $64, DI
	LEAQ       (SI)(R9*8), SI
	SUBQ       $8, CX
	JNZ        eight
	VZEROUPPER
	RET

// func subMulAVX2(dst, x, weights *float64, offset float64, n int)
TEXT ·subMulAVX2(SB), NOSPLIT, $0-40
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

// func momentsAVX2(sums *[3][parts]float64, x *float64, n int, centre float64)
//
// Y0 and Y1 hold the sums of squares, Y2 and Y3 those of cubes, Y4 and Y5 those of
// fourth powers.
TEXT ·momentsAVX2(SB), NOSPLIT, $0-32
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
