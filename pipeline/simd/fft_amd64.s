//go:build !purego

#include "textflag.h"

// Four numbers in Y0 to Y7, real and imaginary parts in turn, become their sums:
// y0 in Y6 and Y7, which are free for the first, the rest to be taken up from
// Y8 = a + c, Y9, Y4 = b + d, Y5, Y0 = a − c, Y1, Y2 = b − d, Y3.
#define BUTTERFLY4 \
	VMOVUPD (SI), Y0; \
	VMOVUPD (DI), Y1; \
	VMOVUPD (SI)(R10*1), Y2; \
	VMOVUPD (DI)(R10*1), Y3; \
	VMOVUPD (SI)(R10*2), Y4; \
	VMOVUPD (DI)(R10*2), Y5; \
	VMOVUPD (SI)(R11*1), Y6; \
	VMOVUPD (DI)(R11*1), Y7; \
	VADDPD  Y4, Y0, Y8; \
	VADDPD  Y5, Y1, Y9; \
	VSUBPD  Y4, Y0, Y0; \
	VSUBPD  Y5, Y1, Y1; \
	VADDPD  Y6, Y2, Y4; \
	VADDPD  Y7, Y3, Y5; \
	VSUBPD  Y6, Y2, Y2; \
	VSUBPD  Y7, Y3, Y3; \
	VADDPD  Y4, Y8, Y6; \
	VADDPD  Y5, Y9, Y7

// (Y8, Y9) times (wr, wi) to (Y6, Y7).
#define TIMES(wr, wi) \
	VMULPD      wi, Y9, Y6; \
	VFMSUB231PD wr, Y8, Y6; \
	VMULPD      wr, Y9, Y7; \
	VFMADD231PD wi, Y8, Y7

// The second and the fourth of the four numbers, (Y0, Y1) less and plus j·(Y2, Y3),
// times their factors.
#define ODD4 \
	VADDPD  Y3, Y0, Y8; \
	VSUBPD  Y2, Y1, Y9; \
	TIMES(Y10, Y11); \
	VMOVUPD Y6, (R8)(R12*1); \
	VMOVUPD Y7, (R9)(R12*1); \
	VSUBPD  Y3, Y0, Y8; \
	VADDPD  Y2, Y1, Y9; \
	TIMES(Y14, Y15); \
	VMOVUPD Y6, (R8)(R13*1); \
	VMOVUPD Y7, (R9)(R13*1)

// Six factors from DX on to Y10 to Y15.
#define FACTORS4 \
	VBROADCASTSD (DX), Y10; \
	VBROADCASTSD 8(DX), Y11; \
	VBROADCASTSD 16(DX), Y12; \
	VBROADCASTSD 24(DX), Y13; \
	VBROADCASTSD 32(DX), Y14; \
	VBROADCASTSD 40(DX), Y15; \
	ADDQ         $48, DX

// func radix4AVX2(dstRe, dstIm, srcRe, srcIm, twiddles *float64, m, stride, apart, skip int)
TEXT ·radix4AVX2(SB), NOSPLIT, $0-72
	MOVQ dstRe+0(FP), R8
	MOVQ dstIm+8(FP), R9
	MOVQ srcRe+16(FP), SI
	MOVQ srcIm+24(FP), DI
	MOVQ twiddles+32(FP), DX
	MOVQ m+40(FP), CX
	MOVQ stride+48(FP), BX

	// In bytes: parts of src lie R10 apart, those of dst R12.
	MOVQ  BX, R10
	IMULQ CX, R10
	SHLQ  $5, R10
	LEAQ  (R10)(R10*2), R11
	MOVQ  apart+56(FP), R12
	SHLQ  $5, R12
	LEAQ  (R12)(R12*2), R13
	MOVQ  skip+64(FP), R15
	SHLQ  $5, R15

twiddle:
	FACTORS4
	MOVQ         BX, AX

butterfly:
	BUTTERFLY4
	VMOVUPD Y6, (R8)
	VMOVUPD Y7, (R9)
	VSUBPD  Y4, Y8, Y8 // a + c − (b + d)
	VSUBPD  Y5, Y9, Y9
	TIMES(Y12, Y13)
	VMOVUPD Y6, (R8)(R12*2)
	VMOVUPD Y7, (R9)(R12*2)
	ODD4

	ADDQ $32, SI
	ADDQ $32, DI
	ADDQ $32, R8
	ADDQ $32, R9
	DECQ AX
	JNZ  butterfly
	ADDQ R15, R8
	ADDQ R15, R9
	DECQ CX
	JNZ  twiddle
	VZEROUPPER
	RET

// func radix4HalfAVX2(dstRe, dstIm, srcRe, srcIm, twiddles *float64, m, apart int)
TEXT ·radix4HalfAVX2(SB), NOSPLIT, $0-56
	MOVQ dstRe+0(FP), R8
	MOVQ dstIm+8(FP), R9
	MOVQ srcRe+16(FP), SI
	MOVQ srcIm+24(FP), DI
	MOVQ twiddles+32(FP), DX
	MOVQ m+40(FP), CX
	MOVQ CX, R10
	SHLQ $5, R10
	MOVQ apart+48(FP), R12
	SHLQ $5, R12
	LEAQ (R12)(R12*2), R13

twiddle:
	FACTORS4
	VMOVUPD      (SI), Y0
	VMOVUPD      (DI), Y1
	VMOVUPD      (SI)(R10*1), Y2
	VMOVUPD      (DI)(R10*1), Y3
	VADDPD       Y2, Y0, Y6
	VADDPD       Y3, Y1, Y7
	VMOVUPD      Y6, (R8)
	VMOVUPD      Y7, (R9)
	VSUBPD       Y2, Y0, Y8 // a − b
	VSUBPD       Y3, Y1, Y9
	TIMES(Y12, Y13)
	VMOVUPD Y6, (R8)(R12*2)
	VMOVUPD Y7, (R9)(R12*2)
	ODD4
	ADDQ    $32, SI
	ADDQ    $32, DI
	ADDQ    $32, R8
	ADDQ    $32, R9
	DECQ    CX
	JNZ     twiddle
	VZEROUPPER
	RET

// func radix4LastAVX2(dstRe, dstIm, srcRe, srcIm *float64, stride int)
TEXT ·radix4LastAVX2(SB), NOSPLIT, $0-40
	MOVQ dstRe+0(FP), R8
	MOVQ dstIm+8(FP), R9
	MOVQ srcRe+16(FP), SI
	MOVQ srcIm+24(FP), DI
	MOVQ stride+32(FP), CX
	MOVQ CX, R10
	SHLQ $5, R10
	LEAQ (R10)(R10*2), R11

butterfly:
	BUTTERFLY4
	VMOVUPD Y6, (R8)
	VMOVUPD Y7, (R9)
	VSUBPD  Y4, Y8, Y8
	VSUBPD  Y5, Y9, Y9
	VMOVUPD Y8, (R8)(R10*2)
	VMOVUPD Y9, (R9)(R10*2)
	VADDPD  Y3, Y0, Y8
	VSUBPD  Y2, Y1, Y9
	VMOVUPD Y8, (R8)(R10*1)
	VMOVUPD Y9, (R9)(R10*1)
	VSUBPD  Y3, Y0, Y8
	VADDPD  Y2, Y1, Y9
	VMOVUPD Y8, (R8)(R11*1)
	VMOVUPD Y9, (R9)(R11*1)
	ADDQ    $32, SI
	ADDQ    $32, DI
	ADDQ    $32, R8
	ADDQ    $32, R9
	DECQ    CX
	JNZ     butterfly
	VZEROUPPER
	RET

DATA half<>+0(SB)/8, $0.5
GLOBL half<>(SB), RODATA|NOPTR, $8
DATA sin60<>+0(SB)/8, $0.86602540378443864676372317075293618347140262690519031402790
GLOBL sin60<>(SB), RODATA|NOPTR, $8

// func radix3LastAVX2(dstRe, dstIm, srcRe, srcIm *float64, stride int)
TEXT ·radix3LastAVX2(SB), NOSPLIT, $0-40
	MOVQ dstRe+0(FP), R8
	MOVQ dstIm+8(FP), R9
	MOVQ srcRe+16(FP), SI
	MOVQ srcIm+24(FP), DI
	MOVQ stride+32(FP), CX
	MOVQ CX, R10
	SHLQ $5, R10
	VBROADCASTSD half<>(SB), Y14
	VBROADCASTSD sin60<>(SB), Y15

butterfly:
	VMOVUPD (SI), Y0
	VMOVUPD (DI), Y1
	VMOVUPD (SI)(R10*1), Y2
	VMOVUPD (DI)(R10*1), Y3
	VMOVUPD (SI)(R10*2), Y4
	VMOVUPD (DI)(R10*2), Y5
	VADDPD  Y4, Y2, Y6 // t
	VADDPD  Y5, Y3, Y7
	VSUBPD  Y4, Y2, Y8 // u
	VSUBPD  Y5, Y3, Y9
	VADDPD  Y6, Y0, Y2
	VADDPD  Y7, Y1, Y3
	VMOVUPD Y2, (R8)
	VMOVUPD Y3, (R9)

	VFNMADD231PD Y14, Y6, Y0 // a − t/2
	VFNMADD231PD Y14, Y7, Y1
	VMOVAPD      Y0, Y2
	VMOVAPD      Y1, Y3
	VFMADD231PD  Y15, Y9, Y2
	VFNMADD231PD Y15, Y8, Y3
	VFNMADD231PD Y15, Y9, Y0
	VFMADD231PD  Y15, Y8, Y1
	VMOVUPD      Y2, (R8)(R10*1)
	VMOVUPD      Y3, (R9)(R10*1)
	VMOVUPD      Y0, (R8)(R10*2)
	VMOVUPD      Y1, (R9)(R10*2)

	ADDQ $32, SI
	ADDQ $32, DI
	ADDQ $32, R8
	ADDQ $32, R9
	DECQ CX
	JNZ  butterfly
	VZEROUPPER
	RET
