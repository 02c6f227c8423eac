#include "textflag.h"

// Offsets in Renewing of the first values and of the lengths of its slices.
#define SOJOURN 0
#define SOJOURN_LEN 8
#define ENTERED 24
#define GAIN 48
#define LEFT 72
#define SHARE 96
#define WEIGHT 120
#define WEIGHT_LEN 128
#define TRAIL 144
#define TRAIL_LEN 152
#define SIZE 168

// func renewAVX2(ring *[4]Renewing, frames int, sum *[4]float64)
//
// BX is the frame, AX its offset in sequences that lie side by side, SI the state.
TEXT ·renewAVX2(SB), NOSPLIT, $0-24
	MOVQ   ring+0(FP), DI
	MOVQ   frames+8(FP), CX
	MOVQ   sum+16(FP), R8
	VXORPD Y15, Y15, Y15
	XORQ   BX, BX
	XORQ   AX, AX

frame:
	MOVQ DI, SI
	MOVQ $4, DX

state:
	MOVQ   SOJOURN(SI), R9
	MOVQ   SOJOURN_LEN(SI), R10
	MOVQ   ENTERED(SI), R11
	ADDQ   AX, R11
	VXORPD Y0, Y0, Y0
	VXORPD Y1, Y1, Y1
	SUBQ   $8, R10
	JLT    odd

two:
	VMOVUPD     (R9), Y2
	VMOVUPD     32(R9), Y3
	VFMADD231PD (R11), Y2, Y0
	VFMADD231PD 32(R11), Y3, Y1
	ADDQ        $64, R9
	ADDQ        $64, R11
	SUBQ        $8, R10
	JGE         two

odd:
	ADDQ        $8, R10
	JZ          summed
	VMOVUPD     (R9), Y2
	VFMADD231PD (R11), Y2, Y0

summed:
	VADDPD       Y1, Y0, Y0
	MOVQ         GAIN(SI), R12
	VBROADCASTSD (R12)(BX*8), Y2
	VMULPD       Y2, Y0, Y0
	MOVQ         SHARE(SI), R12
	VBROADCASTSD (R12)(BX*8), Y3
	VMULPD       Y3, Y0, Y3
	MOVQ         LEFT(SI), R13
	VMOVUPD      Y3, (R13)(AX*1)
	CMPQ         WEIGHT_LEN(SI), $0
	JEQ          weighed
	MOVQ         WEIGHT(SI), R12
	VBROADCASTSD (R12)(AX*1), Y4
	VFMADD231PD  Y4, Y0, Y15

weighed:
	MOVQ    TRAIL_LEN(SI), R12
	TESTQ   R12, R12
	JEQ     trailed
	SHLQ    $3, R12
	ADDQ    TRAIL(SI), R12 // behind the last value
	SUBQ    AX, R12
	VMOVUPD Y0, -32(R12)

trailed:
	ADDQ    $SIZE, SI
	DECQ    DX
	JNZ     state
	ADDQ    $32, AX
	INCQ    BX
	CMPQ    BX, CX
	JLT     frame
	VMOVUPD Y15, (R8)
	VZEROUPPER
	RET
