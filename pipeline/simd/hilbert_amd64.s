//go:build !purego

#include "textflag.h"
#include "constant_amd64.h"
#include "transpose_amd64.h"

// The sign bit.
CONSTANT(signs, 0x8000000000000000)

// Four elements of four sequences at re and im, step bytes apart, to one vector per sequence:
// real parts to Y0 to Y3, imaginary parts to Y4 to Y7.
#define LOAD(re, im, step) \
	VMOVUPD (re), Y0; \
	VMOVUPD (1*step)(re), Y1; \
	VMOVUPD (2*step)(re), Y2; \
	VMOVUPD (3*step)(re), Y3; \
	TRANSPOSE; \
	VMOVAPD Y4, Y12; \
	VMOVAPD Y5, Y13; \
	VMOVAPD Y6, Y14; \
	VMOVAPD Y7, Y15; \
	VMOVUPD (im), Y0; \
	VMOVUPD (1*step)(im), Y1; \
	VMOVUPD (2*step)(im), Y2; \
	VMOVUPD (3*step)(im), Y3; \
	TRANSPOSE; \
	VMOVAPD Y12, Y0; \
	VMOVAPD Y13, Y1; \
	VMOVAPD Y14, Y2; \
	VMOVAPD Y15, Y3

// The other way.
#define STORE(re, im, step) \
	VMOVAPD Y4, Y12; \
	VMOVAPD Y5, Y13; \
	VMOVAPD Y6, Y14; \
	VMOVAPD Y7, Y15; \
	TRANSPOSE; \
	VMOVUPD Y4, (re); \
	VMOVUPD Y5, (1*step)(re); \
	VMOVUPD Y6, (2*step)(re); \
	VMOVUPD Y7, (3*step)(re); \
	VMOVAPD Y12, Y0; \
	VMOVAPD Y13, Y1; \
	VMOVAPD Y14, Y2; \
	VMOVAPD Y15, Y3; \
	TRANSPOSE; \
	VMOVUPD Y4, (im); \
	VMOVUPD Y5, (1*step)(im); \
	VMOVUPD Y6, (2*step)(im); \
	VMOVUPD Y7, (3*step)(im)

// (re, im) times the factor at offset from DX, or its conjugate.
#define TURN(re, im, offset) \
	VMULPD      (offset+32)(DX), im, Y8; \
	VFMSUB231PD (offset)(DX), re, Y8; \
	VMULPD      (offset)(DX), im, Y9; \
	VFMADD231PD (offset+32)(DX), re, Y9; \
	VMOVAPD     Y8, re; \
	VMOVAPD     Y9, im

#define TURNBACK(re, im, offset) \
	VMULPD       (offset+32)(DX), im, Y8; \
	VFMADD231PD  (offset)(DX), re, Y8; \
	VMULPD       (offset)(DX), im, Y9; \
	VFNMADD231PD (offset+32)(DX), re, Y9; \
	VMOVAPD      Y8, re; \
	VMOVAPD      Y9, im

// The sums of join after the factors: numbers 0 to 3 in Y0 to Y3 and Y4 to Y7.
#define JOIN \
	SUMS; \
	VADDPD  Y5, Y0, Y12; \
	VSUBPD  Y5, Y0, Y3; \
	VSUBPD  Y1, Y4, Y5; \
	VADDPD  Y1, Y4, Y7; \
	VMOVAPD Y12, Y1; \
	RENAME

// Those of split before the factors.
#define SPLIT \
	SUMS; \
	VSUBPD  Y5, Y0, Y12; \
	VADDPD  Y5, Y0, Y3; \
	VADDPD  Y1, Y4, Y5; \
	VSUBPD  Y1, Y4, Y7; \
	VMOVAPD Y12, Y1; \
	RENAME

// Y8 and Y9 become the sum and Y10 and Y11 the difference of even and odd, Y0 and Y4
// are then even less, Y1 and Y5 odd less.
#define SUMS \
	VADDPD Y2, Y0, Y12; \
	VADDPD Y6, Y4, Y13; \
	VSUBPD Y2, Y0, Y0; \
	VSUBPD Y6, Y4, Y4; \
	VADDPD Y3, Y1, Y14; \
	VADDPD Y7, Y5, Y15; \
	VSUBPD Y3, Y1, Y1; \
	VSUBPD Y7, Y5, Y5; \
	VADDPD Y14, Y12, Y8; \
	VADDPD Y15, Y13, Y9; \
	VSUBPD Y14, Y12, Y10; \
	VSUBPD Y15, Y13, Y11

#define RENAME \
	VMOVAPD Y8, Y0; \
	VMOVAPD Y9, Y4; \
	VMOVAPD Y10, Y2; \
	VMOVAPD Y11, Y6

// Numbers 0 to 3 to the eight vectors from offset of the scratch in BX on, and back.
#define PUT(offset) \
	VMOVUPD Y0, (offset+0)(BX); \
	VMOVUPD Y1, (offset+32)(BX); \
	VMOVUPD Y2, (offset+64)(BX); \
	VMOVUPD Y3, (offset+96)(BX); \
	VMOVUPD Y4, (offset+128)(BX); \
	VMOVUPD Y5, (offset+160)(BX); \
	VMOVUPD Y6, (offset+192)(BX); \
	VMOVUPD Y7, (offset+224)(BX)

#define GET(offset) \
	VMOVUPD (offset+0)(BX), Y0; \
	VMOVUPD (offset+32)(BX), Y1; \
	VMOVUPD (offset+64)(BX), Y2; \
	VMOVUPD (offset+96)(BX), Y3; \
	VMOVUPD (offset+128)(BX), Y4; \
	VMOVUPD (offset+160)(BX), Y5; \
	VMOVUPD (offset+192)(BX), Y6; \
	VMOVUPD (offset+224)(BX), Y7

// quadrature of the numbers at z and mirror of the scratch with the factor at w.
#define QUADRATURE(z, mirror, w) \
	VMOVUPD      (z)(BX), Y0; \
	VMOVUPD      (z+128)(BX), Y1; \
	VMOVUPD      (mirror)(BX), Y2; \
	VMOVUPD      (mirror+128)(BX), Y3; \
	VMOVUPD      (w)(DX), Y12; \
	VMOVUPD      (w+32)(DX), Y13; \
	VADDPD       Y2, Y0, Y4; \
	VSUBPD       Y3, Y1, Y5; \
	VSUBPD       Y2, Y0, Y6; \
	VADDPD       Y3, Y1, Y7; \
	VMULPD       Y13, Y5, Y8; \
	VFMADD231PD  Y12, Y4, Y8; \
	VMULPD       Y12, Y5, Y9; \
	VFNMADD231PD Y13, Y4, Y9; \
	VMULPD       Y13, Y7, Y10; \
	VFMSUB231PD  Y12, Y6, Y10; \
	VMULPD       Y12, Y7, Y11; \
	VFMADD231PD  Y13, Y6, Y11; \
	VSUBPD       Y10, Y8, Y0; \
	VSUBPD       Y11, Y9, Y1; \
	VADDPD       Y10, Y8, Y2; \
	VXORPD       signs<>(SB), Y2, Y2; \
	VADDPD       Y11, Y9, Y3; \
	VMOVUPD      Y0, (z)(BX); \
	VMOVUPD      Y1, (z+128)(BX); \
	VMOVUPD      Y2, (mirror)(BX); \
	VMOVUPD      Y3, (mirror+128)(BX)

// func hilbertAVX2(re, im, twiddles *float64, scratch *[64]float64, parts, groups int)
TEXT ·hilbertAVX2(SB), NOSPLIT, $0-48
	MOVQ re+0(FP), SI
	MOVQ im+8(FP), DI
	MOVQ twiddles+16(FP), DX
	MOVQ scratch+24(FP), BX
	MOVQ parts+32(FP), R8
	MOVQ groups+40(FP), CX

	// k = 1 and K − 1.
	DECQ R8
	SHLQ $5, R8
	MOVQ R8, R9
	ADDQ SI, R8
	ADDQ DI, R9
	ADDQ $32, SI
	ADDQ $32, DI

fours:
	LOAD(SI, DI, 32)
	TURN(Y1, Y5, 0)
	TURN(Y2, Y6, 64)
	TURN(Y3, Y7, 128)
	JOIN
	PUT(0)
	LOAD(R8, R9, -32)
	TURNBACK(Y1, Y5, 0)
	TURNBACK(Y2, Y6, 64)
	TURNBACK(Y3, Y7, 128)
	JOIN
	PUT(256)

	QUADRATURE(0, 256, 192)
	QUADRATURE(32, 352, 256)
	QUADRATURE(64, 320, 320)
	QUADRATURE(96, 288, 384)

	GET(0)
	SPLIT
	TURNBACK(Y1, Y5, 0)
	TURNBACK(Y2, Y6, 64)
	TURNBACK(Y3, Y7, 128)
	STORE(SI, DI, 32)
	GET(256)
	SPLIT
	TURN(Y1, Y5, 0)
	TURN(Y2, Y6, 64)
	TURN(Y3, Y7, 128)
	STORE(R8, R9, -32)

	ADDQ $448, DX
	ADDQ $128, SI
	ADDQ $128, DI
	SUBQ $128, R8
	SUBQ $128, R9
	DECQ CX
	JNZ  fours
	VZEROUPPER
	RET
