package dataset

import (
	"errors"
	"math/big"
	"math/rand/v2"
	"strconv"
	"testing"
	"time"
)

func TestParseSeconds(t *testing.T) {
	for _, c := range []struct {
		text string
		want time.Duration
	}{
		{"0", 0},
		{"12.92725", 12927250 * time.Microsecond},
		{"13.048838", 13048838 * time.Microsecond},
		{".5", 500 * time.Millisecond},
		{"5.", 5 * time.Second},
		{"+0.25", 250 * time.Millisecond},
		{"-0.020", -20 * time.Millisecond},
		{"0.0000000004", 0},
		{"0.0000000005", 1},
		{"-0.0000000005", -1},
		{"0.9999999999", time.Second},
		{"1.5e-1", 150 * time.Millisecond},
		{"000000000000000001", time.Second},
		{"1000000", maxTime},
	} {
		if got, err := parseSeconds(c.text); err != nil || got != c.want {
			t.Errorf("parseSeconds(%q) = %d, %v; want %d", c.text, got, err, c.want)
		}
	}
	for _, c := range []struct {
		text string
		want error
	}{
		{"", errNotNumber}, {".", errNotNumber}, {"-", errNotNumber}, {"nan", errNotNumber}, {"inf", errNotNumber},
		{"1,5", errNotNumber}, {"0x10", errNotNumber}, {"1_0", errNotNumber}, {"1.2.3", errNotNumber}, {"--1", errNotNumber},
		{"1 s", errNotNumber}, {"١", errNotNumber}, {"1e", errNotNumber},
		{"1000000.000000001", errTooLarge}, {"99999999999", errTooLarge}, {"1e300", errTooLarge}, {"-1e7", errTooLarge},
	} {
		if got, err := parseSeconds(c.text); !errors.Is(err, c.want) {
			t.Errorf("parseSeconds(%q) = %d, %v; want %v", c.text, got, err, c.want)
		}
	}
}

// Numbers of up to nine decimals become nanoseconds exactly, as rational
// arithmetic says.
func TestParseSecondsExactly(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 2000 {
		text := strconv.FormatFloat(r.Float64()*maxTime.Seconds(), 'f', r.IntN(10), 64)
		x, ok := new(big.Rat).SetString(text)
		if !ok {
			t.Fatal(text)
		}
		x.Mul(x, big.NewRat(1_000_000_000, 1))
		x.Add(x, big.NewRat(1, 2)) // round half up; all are positive
		want := new(big.Int).Div(x.Num(), x.Denom()).Int64()
		if got, err := parseSeconds(text); err != nil || int64(got) != want {
			t.Fatalf("parseSeconds(%q) = %d, %v; want %d", text, got, err, want)
		}
	}
}

func TestParseSample(t *testing.T) {
	for text, want := range map[string]int64{"11526": 11526, "-3": -3, "12345.0": 12345, "1.2345e4": 12345, "0": 0} {
		if got, err := parseSample(text); err != nil || got != want {
			t.Errorf("parseSample(%q) = %d, %v; want %d", text, got, err, want)
		}
	}
	for _, text := range []string{"", "S1", "1.5", "nan", "1e17", "0x1F", "12 3"} {
		if got, err := parseSample(text); err == nil {
			t.Errorf("parseSample(%q) = %d, want an error", text, got)
		}
	}
	if _, err := sampleTime(1<<62, 44100); !errors.Is(err, errTooLarge) {
		t.Errorf("sampleTime of a huge sample: %v", err)
	}
}
