"""Writes the check files of package matfile. Needs SciPy (checked with 1.10.1):

    python3 make.py

scipy_*.mat are written by scipy.io.savemat. matlab_*.mat are put together byte by
byte after the description of the format, in the ways that MATLAB uses and SciPy
does not: whole numbers of class double in narrow types, characters of 16 bits,
small elements, and both byte orders.
"""

import struct
import zlib

import numpy as np
from scipy.io import savemat

ROWS = [
    (1, "S1"),
    (245, "systole"),
    (1001, "S2"),
    (1201, "diastole"),
    (2203, "(N"),
    (70000, "N)"),
]


def cell(values):
    c = np.empty((len(values), 2), object)
    for i, (left, right) in enumerate(values):
        c[i, 0], c[i, 1] = left, right
    return c


def one(value):
    c = np.empty((1, 1), object)
    c[0, 0] = value
    return c


types = [np.float64, np.float32, np.int32, np.uint32, np.int64, np.uint64]
state_ans = {
    "nested": cell([(np.array([[n]], types[i]), one(name)) for i, (n, name) in enumerate(ROWS)]),
    "names": cell([(np.array([[float(n)]]), name) for n, name in ROWS]),
}
for compressed in (False, True):
    for kind, value in state_ans.items():
        name = "scipy_%s_%s.mat" % ("compressed" if compressed else "plain", kind)
        savemat(name, {"other": {"field": 1.5}, "state_ans": value}, do_compression=compressed)

# Defects of every kind that the text of an annotation can have, and the same rows
# as text.
defects = [
    (-19, "S1"),
    (301, "Systole"),
    (301, "S2"),
    (901, "diastole"),
    (1501, "(N"),
    (3001, "N)"),
    (4001, "s1"),
    (4201, "S2"),
    (9001, "diastole"),
    (9801, "S1"),
    (12001, "systole"),
]
savemat("defects.mat", {"state_ans": cell([(np.array([[float(n)]]), one(name)) for n, name in defects])}, do_compression=True)
with open("defects.csv", "w") as f:
    f.writelines("%d,%s\n" % row for row in defects)

number = lambda x: np.array([[x]])
savemat(
    "odd_cells.mat",
    {
        "two_numbers": cell([(number(1.0), "S1"), (np.array([[2.0, 3.0]]), "S2")]),
        "fraction": cell([(number(1.5), "S1")]),
        "not_a_number": cell([(number(1.0), "S1"), (number(np.nan), "S2")]),
        "unknown": cell([(number(1.0), "S3"), (number(5.0), "S1")]),
        "backwards": cell([(number(5), "S1"), (number(2), "systole")]),
    },
)

savemat(
    "scipy_classes.mat",
    {
        "double": np.array([[1.5, -2, np.inf], [3, 4e300, 0]]),
        "single": np.float32([[0.5, -0.25]]),
        "int8": np.int8([[-128, 127]]),
        "uint8": np.uint8([[0, 255]]),
        "int16": np.int16([[-32768, 32767]]),
        "uint16": np.uint16([[65535]]),
        "int32": np.int32([[-(2**31)]]),
        "uint32": np.uint32([[2**32 - 1]]),
        "int64": np.int64([[-(2**53)]]),
        "uint64": np.uint64([[2**53]]),
        "logical": np.array([[True, False]]),
        "cube": np.arange(24, dtype=np.uint8).reshape(2, 3, 4),
        "empty": np.zeros((0, 0)),
        "empty_cell": np.empty((0, 2), object),
        "ascii": "heart sound",
        "accents": "Größe 心",
        "no_text": "",
        "two_lines": np.array(["ab", "cd"]),
        "complex": np.array([[1 + 2j]]),
        "structure": {"a": 1},
    },
    do_compression=True,
)

# The bytes of a file, after the description of the format.

INT8, UINT8, UINT16, INT32, UINT32, DOUBLE, MATRIX, COMPRESSED = 1, 2, 4, 5, 6, 9, 14, 15
CELL, CHAR, DOUBLE_CLASS = 1, 4, 6


class Writer:
    def __init__(self, order):
        self.order = order

    def pack(self, code, *values):
        return struct.pack(self.order + str(len(values)) + code, *values)

    def element(self, kind, data):
        if 0 < len(data) <= 4:
            return self.pack("I", len(data) << 16 | kind) + data.ljust(4, b"\0")
        return self.pack("I", kind, len(data)) + data + b"\0" * (-len(data) % 8)

    def array(self, array_class, rows, columns, content, name=""):
        return self.element(
            MATRIX,
            self.element(UINT32, self.pack("I", array_class, 0))
            + self.element(INT32, self.pack("i", rows, columns))
            + self.element(INT8, name.encode())
            + content,
        )

    def number(self, n):
        if n < 256:
            content = self.element(UINT8, bytes([n]))
        elif n < 65536:
            content = self.element(UINT16, self.pack("H", n))
        else:
            content = self.element(DOUBLE, self.pack("d", n))
        return self.array(DOUBLE_CLASS, 1, 1, content)

    def text(self, s):
        units = s.encode("utf-16-be" if self.order == ">" else "utf-16-le")
        return self.array(CHAR, 1, len(units) // 2, self.element(UINT16, units))

    def file(self, variables):
        text = b"MATLAB 5.0 MAT-file, made by make.py".ljust(116)
        version = self.pack("H", 0x0100, ord("M") << 8 | ord("I"))
        return text + bytes(8) + version + variables


def write(name, order, compressed):
    w = Writer(order)
    content = b"".join(w.number(n) for n, _ in ROWS)
    content += b"".join(w.array(CELL, 1, 1, w.text(s)) for _, s in ROWS)
    v = w.array(CELL, len(ROWS), 2, content, "state_ans")
    if compressed:
        v = zlib.compress(v)
        v = w.pack("I", COMPRESSED, len(v)) + v
    with open(name, "wb") as f:
        f.write(w.file(v))


write("matlab_big_endian.mat", ">", False)
write("matlab_little_endian.mat", "<", False)
write("matlab_compressed.mat", "<", True)
write("matlab_compressed_big_endian.mat", ">", True)
