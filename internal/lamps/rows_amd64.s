//go:build amd64 && !purego

#include "textflag.h"

// func addAVX2(sum, pix *float32, groups int)
TEXT ·addAVX2(SB), NOSPLIT, $0-24
	MOVQ sum+0(FP), DI
	MOVQ pix+8(FP), SI
	MOVQ groups+16(FP), CX
	TESTQ CX, CX
	JZ   addDone

addLoop:
	VMOVUPS (DI), Y0
	VADDPS  (SI), Y0, Y0
	VMOVUPS Y0, (DI)
	ADDQ    $32, DI
	ADDQ    $32, SI
	DECQ    CX
	JNZ     addLoop

addDone:
	VZEROUPPER
	RET

// func exchangeAVX2(low, high *float32, groups int)
TEXT ·exchangeAVX2(SB), NOSPLIT, $0-24
	MOVQ low+0(FP), DI
	MOVQ high+8(FP), SI
	MOVQ groups+16(FP), CX
	TESTQ CX, CX
	JZ   exchangeDone

exchangeLoop:
	VMOVUPS (DI), Y0
	VMOVUPS (SI), Y1
	VMINPS  Y1, Y0, Y2
	VMAXPS  Y1, Y0, Y3
	VMOVUPS Y2, (DI)
	VMOVUPS Y3, (SI)
	ADDQ    $32, DI
	ADDQ    $32, SI
	DECQ    CX
	JNZ     exchangeLoop

exchangeDone:
	VZEROUPPER
	RET
