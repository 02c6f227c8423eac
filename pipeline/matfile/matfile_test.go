package matfile

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func fixture(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// TestStateStarts reads the same rows as SciPy writes them, and as MATLAB does.
func TestStateStarts(t *testing.T) {
	const want = "1 S1, 245 systole, 1001 S2, 1201 diastole, 2203 (N, 70000 N)"
	for _, name := range []string{
		"scipy_plain_nested.mat", "scipy_plain_names.mat", "scipy_compressed_nested.mat", "scipy_compressed_names.mat",
		"matlab_little_endian.mat", "matlab_big_endian.mat", "matlab_compressed.mat", "matlab_compressed_big_endian.mat",
	} {
		a, err := ReadVariable(bytes.NewReader(fixture(t, name)), "state_ans")
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if a.Class != 1 || a.Rows != 6 || a.Columns != 2 || len(a.Cells) != 12 {
			t.Fatalf("%s: class %d, %d x %d, %d cells", name, a.Class, a.Rows, a.Columns, len(a.Cells))
		}
		var rows []string
		for i := range 6 {
			n, ok := a.Cells[i].Number()
			if !ok {
				t.Errorf("%s: row %d: no number", name, i+1)
			}
			text := a.Cells[6+i]
			if strings.HasSuffix(name, "names.mat") != (text.Class == 4) {
				t.Errorf("%s: row %d: class %d", name, i+1, text.Class)
			}
			if text.Class == 1 && len(text.Cells) == 1 {
				text = text.Cells[0]
			}
			rows = append(rows, fmt.Sprint(n, " ", text.Text))
		}
		if got := strings.Join(rows, ", "); got != want {
			t.Errorf("%s: %s", name, got)
		}
	}
}

func TestClasses(t *testing.T) {
	file := fixture(t, "scipy_classes.mat")
	for _, c := range []struct{ name, want string }{
		{"double", "class 6, 2 x 3: [1.5 3 -2 4e+300 +Inf 0]"},
		{"single", "class 7, 1 x 2: [0.5 -0.25]"},
		{"int8", "class 8, 1 x 2: [-128 127]"},
		{"uint8", "class 9, 1 x 2: [0 255]"},
		{"int16", "class 10, 1 x 2: [-32768 32767]"},
		{"uint16", "class 11, 1 x 1: [65535]"},
		{"int32", "class 12, 1 x 1: [-2.147483648e+09]"},
		{"uint32", "class 13, 1 x 1: [4.294967295e+09]"},
		{"int64", "class 14, 1 x 1: [-9.007199254740992e+15]"},
		{"uint64", "class 15, 1 x 1: [9.007199254740992e+15]"},
		{"logical", "class 9, 1 x 2: [1 0] logical"},
		{"cube", "class 9, 2 x 12: [0 12 4 16 8 20 1 13 5 17 9 21 2 14 6 18 10 22 3 15 7 19 11 23]"},
		{"empty", "class 6, 0 x 0: []"},
		{"empty_cell", "class 1, 0 x 2: []"},
		{"ascii", `class 4, 1 x 11: [] "heart sound"`},
		{"accents", `class 4, 1 x 7: [] "Größe 心"`},
		{"no_text", `class 4, 0 x 0: [] ""`},
		{"two_lines", `class 4, 2 x 2: [] "acbd"`},
	} {
		a, err := ReadVariable(bytes.NewReader(file), c.name)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		got := fmt.Sprintf("class %d, %d x %d: %v", uint8(a.Class), a.Rows, a.Columns, a.Numbers)
		if a.Class == 4 {
			got += fmt.Sprintf(" %q", a.Text)
		}
		if a.Logical {
			got += " logical"
		}
		if got != c.want || a.Name != c.name {
			t.Errorf("%s: %s, want %s", a.Name, got, c.want)
		}
	}
	if _, err := ReadVariable(bytes.NewReader(file), "complex"); !errors.Is(err, ErrClass) || !strings.Contains(err.Error(), "complex numbers") {
		t.Error(err)
	}
	if _, err := ReadVariable(bytes.NewReader(file), "structure"); !errors.Is(err, ErrClass) || !strings.Contains(err.Error(), "a structure") {
		t.Error(err)
	}
	if _, err := ReadVariable(bytes.NewReader(file), "single"[:5]); !errors.Is(err, ErrVariable) ||
		!strings.Contains(err.Error(), `"singl": the file has "double", "single", "int8", "uint8", "int16" and 15 more`) {
		t.Error(err)
	}
}

// little puts a file together in the order "<" of make.py.
func little(elements ...[]byte) []byte {
	h := append(bytes.Repeat([]byte{' '}, 116), make([]byte, 8)...)
	h = append(h, 0, 1, 'I', 'M')
	return append(h, bytes.Join(elements, nil)...)
}

func element(kind uint32, data ...byte) []byte {
	b := binary.LittleEndian.AppendUint32(nil, kind)
	b = binary.LittleEndian.AppendUint32(b, uint32(len(data)))
	b = append(b, data...)
	return append(b, make([]byte, -len(data)&7)...)
}

func words(values ...uint32) (b []byte) {
	for _, v := range values {
		b = binary.LittleEndian.AppendUint32(b, v)
	}
	return b
}

func matrix(name string, class uint32, dims []byte, content ...byte) []byte {
	body := bytes.Join([][]byte{element(6, words(class, 0)...), element(5, dims...), element(1, []byte(name)...), content}, nil)
	return element(14, body...)
}

func compressed(data []byte) []byte {
	var b bytes.Buffer
	z := zlib.NewWriter(&b)
	z.Write(data)
	z.Close()
	head := binary.LittleEndian.AppendUint32(words(15), uint32(b.Len()))
	return append(head, b.Bytes()...)
}

func TestErrors(t *testing.T) {
	one := matrix("x", 6, words(1, 1), element(9, make([]byte, 8)...)...)
	deep := matrix("", 6, words(1, 1), element(9, make([]byte, 8)...)...)
	for range 18 {
		deep = matrix("", 1, words(1, 1), deep...)
	}
	flipped := compressed(one)
	flipped[len(flipped)-1] ^= 1 // of the checksum
	scipy := fixture(t, "scipy_compressed_nested.mat")
	for _, c := range []struct {
		what string
		file []byte
		err  error
		text string
	}{
		{"empty", nil, ErrFormat, "0 bytes, fewer than the header has"},
		{"text", bytes.Repeat([]byte("1,S1\n"), 100), ErrFormat, "neither IM nor MI"},
		{"level 4", append(words(0, 1, 1, 0, 2), make([]byte, 200)...), ErrFormat, "it may be one of level 4: save it as version 7"},
		{"HDF5", []byte("MATLAB 7.3 MAT-file, Platform: GLNXA64" + strings.Repeat(" ", 86) + "\x00\x02IM"), ErrVersion, "save it as version 7, in MATLAB with save(file, variable, '-v7')"},
		{"bare HDF5", []byte("\x89HDF\r\n\x1a\n" + strings.Repeat("\x00", 200)), ErrVersion, "7.3 (HDF5)"},
		{"no variable", little(), ErrVariable, "the file has no variable at all"},
		{"another variable", little(matrix("y", 6, words(0, 0), element(9)...)), ErrVariable, `"x": the file has "y"`},
		{"cut tag", little(one)[:131], ErrDamaged, "it ends inside the tag"},
		{"cut variable", little(one)[:len(little(one))-4], ErrDamaged, "it ends inside a variable"},
		{"cut stream", scipy[:len(scipy)-30], ErrDamaged, "it ends inside a variable"},
		{"wrong checksum", little(flipped), ErrDamaged, "checksum"},
		{"no zlib", little(element(15, 1, 2, 3, 4, 5, 6, 7, 8)), ErrDamaged, "zlib: invalid header"},
		{"claims 4 GB", little(words(14, 0xFFFFFFF8), one[8:]), ErrDamaged, "it ends inside a variable"},
		{"claims 2^31 cells", little(matrix("x", 1, words(1<<16, 1<<15), deep[:16]...)), ErrDamaged, "2147483648 cells claimed in 16 bytes"},
		{"claims numbers", little(matrix("x", 6, words(3, 1), element(9, make([]byte, 16)...)...)), ErrDamaged, "16 bytes of type 9 for 3 numbers"},
		{"negative dimension", little(matrix("x", 6, words(0xFFFFFFFF, 1), element(9, make([]byte, 8)...)...)), ErrDamaged, "dimension -1"},
		{"inner claim", little(matrix("x", 6, words(1, 1), words(9, 800, 0, 0)...)), ErrDamaged, "an element claims 800 bytes and has 8"},
		{"small claim", little(matrix("x", 6, words(1, 1), words(5<<16|9, 0)...)), ErrDamaged, "a small element claims 5 bytes"},
		{"too deep", little(matrix("x", 1, words(1, 1), deep...)), ErrDamaged, "more than 16 deep"},
		{"too many", little(compressed(matrix("x", 1, words(1<<18, 1), bytes.Repeat(words(14, 0), 1<<18)...))), ErrDamaged, "more than 262144 arrays"},
		{"no array", little(matrix("x", 1, words(1, 1), element(9, make([]byte, 8)...)...)), ErrDamaged, "cell 1 holds type 9"},
		{"no text", little(matrix("x", 4, words(1, 1), element(9, make([]byte, 8)...)...)), ErrDamaged, "characters of type 9"},
		{"sparse", little(matrix("x", 5, words(1, 1))), ErrClass, "a sparse array"},
		{"compressed twice", little(compressed(compressed(one))), ErrVariable, "no variable at all"},
	} {
		_, err := ReadVariable(bytes.NewReader(c.file), "x")
		if c.what == "cut stream" {
			_, err = ReadVariable(bytes.NewReader(c.file), "state_ans")
		}
		if !errors.Is(err, c.err) || !strings.Contains(err.Error(), c.text) {
			t.Errorf("%s: %v", c.what, err)
		}
	}
	for what, file := range map[string][]byte{"plain": little(one), "compressed": little(compressed(one)), "behind a small element": little(words(1<<16|1, 7), one)} {
		if a, err := ReadVariable(bytes.NewReader(file), "x"); err != nil || len(a.Numbers) != 1 {
			t.Errorf("%s: %v", what, err)
		}
	}
}

// TestBomb: a stream that claims and holds a gigabyte is refused before it grows.
func TestBomb(t *testing.T) {
	var b bytes.Buffer
	z := zlib.NewWriter(&b)
	z.Write(words(14, 1<<30))
	z.Write(matrix("x", 9, words(1<<30, 1))[8:])
	z.Write(words(2, 1<<30-56))
	zeros := make([]byte, 1<<20)
	for range 64 {
		z.Write(zeros)
	}
	z.Close()
	file := little(append(words(15, uint32(b.Len())), b.Bytes()...))
	allocated := testing.AllocsPerRun(1, func() {
		if _, err := ReadVariable(bytes.NewReader(file), "x"); !errors.Is(err, ErrDamaged) || !strings.Contains(err.Error(), "claims 1073741824 bytes") {
			t.Error(err)
		}
	})
	if allocated > 100 {
		t.Errorf("%v allocations", allocated)
	}
}

// FuzzReadVariable feeds arbitrary bytes: what is read has the size that it
// says, and no more memory than the file can fill.
func FuzzReadVariable(f *testing.F) {
	names, err := filepath.Glob(filepath.Join("testdata", "*.mat"))
	if err != nil || len(names) != 11 {
		f.Fatal(names, err)
	}
	for _, name := range names {
		f.Add(fixture(f, filepath.Base(name)))
	}
	f.Fuzz(func(t *testing.T, file []byte) {
		for _, name := range []string{"state_ans", "cube"} {
			a, err := ReadVariable(bytes.NewReader(file), name)
			if (a == nil) == (err == nil) {
				t.Fatalf("array %v and error %v", a, err)
			}
			if err == nil {
				checkArray(t, a)
			} else if !strings.Contains(err.Error(), "MATLAB") && !errors.Is(err, ErrVariable) && !errors.Is(err, ErrClass) {
				t.Errorf("error %v", err)
			}
		}
	})
}

func checkArray(t *testing.T, a *Array) {
	if n := a.Rows * a.Columns; a.Class != Char && n != len(a.Numbers)+len(a.Cells) || math.MaxInt32 < a.Columns {
		t.Fatalf("%d x %d with %d numbers and %d cells", a.Rows, a.Columns, len(a.Numbers), len(a.Cells))
	}
	for i := range a.Cells {
		checkArray(t, &a.Cells[i])
	}
}
