package eval

import (
	"math"
	"strings"
	"testing"
	"time"
)

func TestUnitCheck(t *testing.T) {
	null := Ratio(math.NaN())
	for _, tt := range []struct {
		name string
		add  func(u *UnitCheck)
		want string // beginnings of the warnings
	}{
		{"nothing", func(u *UnitCheck) {}, ""},
		{"right", func(u *UnitCheck) {
			for range 10 {
				u.Add(55*time.Second, 100*time.Second, 70, 72)
			}
		}, ""},
		{"9 of 10 end early", func(u *UnitCheck) {
			u.Add(55*time.Second, 100*time.Second, null, null)
			for range 9 {
				u.Add(54999*time.Millisecond, 100*time.Second, null, null)
			}
		}, "data set x: the reference of 9 of 10 recordings ends before 55 % of the recording: "},
		{"8 of 9 end early", func(u *UnitCheck) {
			u.Add(55*time.Second, 100*time.Second, null, null)
			for range 8 {
				u.Add(time.Second, 100*time.Second, null, null)
			}
		}, ""},
		{"4 of 4 are too few", func(u *UnitCheck) {
			for range 4 {
				u.Add(time.Second, 100*time.Second, 140, 70)
			}
		}, ""},
		{"unknown lengths", func(u *UnitCheck) {
			for range 9 {
				u.Add(time.Second, 0, null, 70)
			}
		}, ""},
		{"double in 4 of 6", func(u *UnitCheck) {
			u.Add(time.Minute, time.Minute, 70, 70)
			u.Add(time.Minute, time.Minute, 70, 50)
			u.Add(time.Minute, time.Minute, 156, 70) // 2.23 times
			u.Add(time.Minute, time.Minute, 124, 70) // 1.77 times
			u.Add(time.Minute, time.Minute, 140, 70)
			u.Add(time.Minute, time.Minute, 140, 70)
			u.Add(time.Minute, time.Minute, null, 70)
		}, "data set x: the heart rate of the reference is double that of the sound in 4 of 6 recordings: "},
		{"double in 3 of 5", func(u *UnitCheck) {
			for i := range 5 {
				u.Add(time.Minute, time.Minute, []Ratio{70, 159, 140, 140, 140}[i], 70)
			}
		}, ""},
		{"half in 5 of 5", func(u *UnitCheck) {
			for range 5 {
				u.Add(time.Minute, time.Minute, 38, 70) // 0.54 times
			}
		}, "data set x: the heart rate of the reference is half that of the sound in 5 of 5 recordings: "},
		{"a third", func(u *UnitCheck) {
			for range 9 {
				u.Add(time.Minute, time.Minute, 30, 70) // 0.43 times
			}
		}, ""},
	} {
		var u UnitCheck
		tt.add(&u)
		got := strings.Join(u.Warnings("x", "that of the sound"), "\n")
		if !strings.HasPrefix(got, tt.want) || (tt.want == "") != (got == "") || strings.Contains(got, "\n") {
			t.Errorf("%s: %q", tt.name, got)
		}
	}
}
