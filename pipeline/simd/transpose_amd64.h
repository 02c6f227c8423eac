// Four vectors to four of their elements 0, 1, 2 and 3: Y0 to Y3 to Y4 to Y7,
// by way of Y8 to Y11.
#define TRANSPOSE \
	VUNPCKLPD  Y1, Y0, Y8; \
	VUNPCKHPD  Y1, Y0, Y9; \
	VUNPCKLPD  Y3, Y2, Y10; \
	VUNPCKHPD  Y3, Y2, Y11; \
	VPERM2F128 $0x20, Y10, Y8, Y4; \
	VPERM2F128 $0x20, Y11, Y9, Y5; \
	VPERM2F128 $0x31, Y10, Y8, Y6; \
	VPERM2F128 $0x31, Y11, Y9, Y7
