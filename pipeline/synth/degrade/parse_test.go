package degrade

import (
	"strings"
	"testing"
)

func TestParse(t *testing.T) {
	for text, want := range map[string]string{
		"":                                      "",
		"noise=pink,snr=5":                      "noise=pink,snr=5",
		" noise = white , snr = -5.50 ":         "noise=white,snr=-5.5",
		"noise=./ward,snr=-0":                   "noise=./ward,snr=0",
		"rate=500":                              "rate=500",
		"bits=08":                               "bits=8",
		"clip=1e-2":                             "clip=0.01",
		"low-cut=40.0":                          "low-cut=40",
		"high-cut=150":                          "high-cut=150",
		"gaps=0.05,gap-length=0.2s":             "gaps=0.05,gap-length=200ms",
		"low-cut=40,noise=brown,snr=10,bits=12": "low-cut=40,noise=brown,snr=10,bits=12",
		"noise=pink,snr=10,noise=white,snr=20":  "noise=pink,snr=10,noise=white,snr=20",
	} {
		c, err := Parse(text)
		if err != nil || c.String() != want || c.Empty() != (want == "") {
			t.Errorf("%q: %q, %v; want %q", text, &c, err, want)
		}
	}
}

// An error names the key and says what to write.
func TestParseErrors(t *testing.T) {
	for text, want := range map[string][]string{
		"noise":                                  {`"noise" is not key=value`, "noise=pink,snr=5"},
		"noise=pink":                             {"noise=pink needs the key snr", "noise=pink,snr=5"},
		"noise=pink,rate=500":                    {"needs the key snr"},
		"snr=5":                                  {"the key snr belongs behind noise"},
		"noise=pink,snr=loud":                    {"snr=loud: want", "in dB", "from -60 to 100"},
		"noise=pink,snr=NaN":                     {"snr=NaN: want"},
		"rate=499":                               {"rate=499: want", "from 500 to 192000"},
		"rate=1e3":                               {"rate=1e3: want", "whole number"},
		"bits=17":                                {"bits=17: want", "from 2 to 16"},
		"clip=1%":                                {"clip=1%: want the share", "such as 0.05"},
		"clip=1":                                 {"clip=1: want the share"},
		"low-cut=0":                              {"low-cut=0: want a frequency in hertz from 1 to 20000"},
		"gaps=0.1,gap-length=5":                  {"gap-length=5: want a time", "such as 200ms"},
		"gaps=0,gap-length=1s":                   {"gaps=0: want the share"},
		"nose=pink,snr=5":                        {`unknown key "nose"`, "did you mean noise?"},
		"reverberation=1":                        {`unknown key "reverberation"`, "noise, rate, bits, clip, low-cut, high-cut, gaps"},
		strings.Repeat("bits=8,", 20):            {`"" is not key=value`},
		strings.Repeat("bits=8,", 16) + "bits=8": {"17 changes", "at most 16"},
		strings.Repeat("x", 3000):                {"3000 bytes"},
	} {
		_, err := Parse(text)
		for _, part := range want {
			if err == nil || !strings.Contains(err.Error(), part) {
				t.Errorf("%.50q: %v, want %q in it", text, err, part)
			}
		}
	}
	for _, e := range Examples() {
		if _, err := Parse(e); err != nil {
			t.Errorf("example %s: %v", e, err)
		}
	}
}

// The one form of a condition is read as the same condition.
func FuzzParse(f *testing.F) {
	for _, e := range Examples() {
		f.Add(e)
	}
	f.Add(strings.Join(Examples(), ","))
	f.Add("noise=@,snr=-0")
	f.Fuzz(func(t *testing.T, text string) {
		c, err := Parse(text)
		if err != nil {
			return
		}
		again, err := Parse(c.String())
		if err != nil || again.String() != c.String() {
			t.Errorf("%q: %q is read as %q, %v", text, &c, &again, err)
		}
	})
}
