package features

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"phonocycle/pipeline/pcg"
)

// Values by hand, and null where there is too little.
func TestStatisticsByHand(t *testing.T) {
	nan := math.NaN()
	x := []float64{1, 2, 4, 9}
	for _, tt := range []struct {
		name      string
		got, want float64
	}{
		{"mean", mean(x), 4}, {"mean of nothing", mean(nil), nan},
		{"SD", standardDeviation(x), math.Sqrt(38. / 3)}, {"SD of one", standardDeviation(x[:1]), nan}, {"SD of two", standardDeviation(x[:2]), math.Sqrt(0.5)},
		{"median", median(x), 3}, {"median of nothing", median(nil), nan},
		{"interquartile range", interquartileRange(x), 5.25 - 1.75}, {"of one", interquartileRange(x[:1]), nan}, {"of two", interquartileRange(x[:2]), 0.5},
		{"second moment", momentsOf(x).second, 9.5}, {"third", momentsOf(x).third, (-27 - 8 + 125) / 4.}, {"fourth", momentsOf(x).fourth, (81 + 16 + 625) / 4.},
		{"skewness", momentsOf(x).skewness(), 22.5 / math.Pow(9.5, 1.5)}, {"kurtosis", momentsOf(x).kurtosis(), 180.5 / 90.25},
		{"skewness of a constant", momentsOf([]float64{2, 2}).skewness(), nan},
		{"ratio", ratio(3, 4), 0.75}, {"ratio by zero", ratio(3, 0), nan}, {"by less", ratio(3, -1), nan}, {"by null", ratio(3, nan), nan}, {"of zero", ratio(0, 2), 0},
		{"decibels", decibels(100), 20}, {"of zero", decibels(0), nan}, {"of less", decibels(-1), nan}, {"of null", decibels(nan), nan},
		{"energy", energy(x), 102}, {"finite", finite(3), 3}, {"infinite", finite(math.Inf(-1)), nan},
	} {
		if !(math.Abs(tt.got-tt.want) < 1e-12) && !(math.IsNaN(tt.got) && math.IsNaN(tt.want)) {
			t.Errorf("%s is %v, want %v", tt.name, tt.got, tt.want)
		}
	}
}

// cyclesAt returns cycles that begin at the given milliseconds and last as long as
// the next is away, with systoles of the given lengths from S1 to S2.
func cyclesAt(gap int, at []int, systoles ...int) (list []pcg.CycleTimes) {
	ms := func(n int) time.Duration { return time.Duration(n) * time.Millisecond }
	for i, s := range systoles {
		start, end := at[i], at[i+1]
		list = append(list, pcg.CycleTimes{ms(start + i*gap), ms(start + i*gap + 100), ms(start + i*gap + s), ms(start + i*gap + s + 80), ms(end + i*gap)})
	}
	return list
}

// RR of 800, 850, 901 and 750 ms, from S1 to S2 300, 310, 330 and 290 ms.
func TestRatesByHand(t *testing.T) {
	r := &recording{cycles: cyclesAt(0, []int{500, 1300, 2150, 3051, 3801}, 300, 310, 330, 290), length: 10 * time.Second}
	d := func(v ...float64) float64 {
		sum := 0.0
		for _, x := range v {
			sum += x * x
		}
		return math.Sqrt(sum / float64(len(v)))
	}
	const m = 0.82525
	rr := []float64{0.8, 0.85, 0.901, 0.75}
	s := []float64{0.3, 0.31, 0.33, 0.29}
	var xx, xy, yy float64
	for i := range rr {
		xx, xy, yy = xx+(rr[i]-m)*(rr[i]-m), xy+(rr[i]-m)*(s[i]-0.3075), yy+(s[i]-0.3075)*(s[i]-0.3075)
	}
	for name, want := range map[string]float64{
		"cycles_count": 4, "cycles_share": 0.3301, "heart_rate_per_min": 60 / m, "rr_coefficient_of_variation": math.Sqrt(xx/3) / m,
		"rr_successive_over_50_ms_share": 2. / 3, // 50 ms is not more than 50
		"s1_to_s2_interval_on_rr_slope":  xy / xx, "s1_to_s2_interval_rr_correlation": xy / math.Sqrt(xx*yy),
		"rr_interval_rmssd_s": d(0.05, 0.051, 0.151), "systole_rmssd_s": d(0.01, 0.02, 0.04), "diastole_rmssd_s": d(0.04, 0.031, 0.111),
	} {
		i := slices.IndexFunc(recordingFeatures, func(f Feature) bool { return f.Name == name })
		if got := recordingFeatures[i].ofRecording(r); !(math.Abs(got-want) < 1e-12) {
			t.Errorf("%s is %v, want %v", name, got, want)
		}
	}
	// With a gap of 1 ms no cycle follows another.
	r.cycles = cyclesAt(1, []int{500, 1300, 2150, 3051, 3801}, 300, 310, 330, 290)
	for _, name := range []string{"rr_successive_over_50_ms_share", "rr_interval_rmssd_s"} {
		i := slices.IndexFunc(recordingFeatures, func(f Feature) bool { return f.Name == name })
		if got := recordingFeatures[i].ofRecording(r); !math.IsNaN(got) {
			t.Errorf("without pairs %s is %v", name, got)
		}
	}
	if slope, c := systoleOnRR(r.cycles[:2]); !math.IsNaN(slope) || !math.IsNaN(c) {
		t.Errorf("of two cycles: slope %v, correlation %v", slope, c)
	}
	if slope, c := systoleOnRR(cyclesAt(0, []int{0, 800, 1650, 2400}, 300, 300, 300)); math.Abs(slope) > 1e-12 || !math.IsNaN(c) {
		t.Errorf("of equal systoles: slope %v, correlation %v", slope, c)
	}
	if slope, c := systoleOnRR(cyclesAt(0, []int{0, 800, 1600, 2400}, 300, 310, 300)); !math.IsNaN(slope) || !math.IsNaN(c) {
		t.Errorf("of equal RR: slope %v, correlation %v", slope, c)
	}
}

// Peaks of 1 and 0.3 or less that are 30 samples apart, between zeros.
func TestSplitByHand(t *testing.T) {
	envelope := func(apart int, second, between float64) []float64 {
		a := make([]float64, 180)
		for i := range a {
			bump := func(at int) float64 { return math.Max(0, 1-math.Abs(float64(i-at))/8) }
			a[i] = math.Max(math.Max(bump(40), second*bump(40+apart)), 0)
			if i > 40 && i < 40+apart {
				a[i] = math.Max(a[i], between)
			}
		}
		return a
	}
	for _, tt := range []struct {
		apart           int
		second, between float64
		want            float64 // s
	}{
		{40, 0.9, 0, 0.040}, {40, 0.3, 0, 0.040}, {40, 0.15, 0, 0}, {98, 0.9, 0, 0.098}, {104, 0.9, 0, 0}, {40, 0.9, 0.9, 0},
	} {
		got, _ := splitOf(envelope(tt.apart, tt.second, tt.between), nil)
		if math.Abs(got.seconds-tt.want) > 0.0011 || (got.confidence > 0) != (tt.want > 0) || got.confidence > 1 {
			t.Errorf("%d ms apart, %v high, %v between: %+v, want %v s", tt.apart, tt.second, tt.between, got, tt.want)
		}
	}
	a := []float64{0, 2, 1, 3, 3, 0, 5}
	for _, tt := range []struct{ from, to, not, want int }{{0, 7, -1, 3}, {0, 3, -1, 1}, {0, 7, 3, 1}, {2, 3, -1, -1}, {-5, 90, -1, 3}} {
		if got := highest(a, tt.from, tt.to, tt.not); got != tt.want {
			t.Errorf("highest of [%d, %d) but %d is at %d, want %d", tt.from, tt.to, tt.not, got, tt.want)
		}
	}
	if least(a, 1, 3) != 1 || least(a, 6, 3) != 0 || least(a, 6, 6) != 5 {
		t.Errorf("least: %v, %v, %v", least(a, 1, 3), least(a, 6, 3), least(a, 6, 6))
	}
	one := make([]float64, 60)
	for i := range one {
		one[i] = 1
	}
	for _, n := range []int{1, 9, 21, 60} { // the mean of a constant is that constant, at the ends too
		for i, v := range smoothHann(nil, one[:n]) {
			if math.Abs(v-1) > 1e-12 {
				t.Errorf("sample %d of %d ones is smoothed to %v", i, n, v)
			}
		}
	}
}

// Intervals are refused with number and cause; those that touch the ends are taken.
func TestCheckIntervals(t *testing.T) {
	at := func(from, to int) pcg.Interval {
		return pcg.Interval{Start: time.Duration(from) * time.Second, End: time.Duration(to) * time.Second, State: pcg.S1}
	}
	for _, tt := range []struct {
		list []pcg.Interval
		want string
	}{
		{nil, ""}, {[]pcg.Interval{at(0, 1), at(1, 2), at(3, 5)}, ""},
		{[]pcg.Interval{at(0, 1), at(1, 1)}, "interval 1: S1 [1.000 s, 1.000 s) has no length"},
		{[]pcg.Interval{at(0, 2), at(1, 3)}, "interval 1: S1 [1.000 s, 3.000 s) begins before 2.000 s"},
		{[]pcg.Interval{at(-1, 1)}, "interval 0: S1 [-1.000 s, 1.000 s) begins before 0.000 s"},
		{[]pcg.Interval{at(0, 6)}, "interval 0: S1 [0.000 s, 6.000 s) ends after the recording, at 5.000 s"},
	} {
		if err := checkIntervals(tt.list, 5*time.Second); (err == nil) != (tt.want == "") || err != nil && !strings.HasPrefix(err.Error(), tt.want) {
			t.Errorf("%v: %v, want %q", tt.list, err, tt.want)
		}
	}
	// A cycle that starts with the recording is left out, and the sequence stops when asked to.
	var list []pcg.Interval
	for i := range 13 {
		iv := at(i, i+1)
		iv.State = pcg.Cycle[i%4]
		list = append(list, iv)
	}
	var starts []string
	for c := range WholeCycles(list) {
		starts = append(starts, fmt.Sprint(c[0]))
	}
	if got := strings.Join(starts, " "); got != "4s 8s" {
		t.Errorf("cycles start at %s", got)
	}
	for range WholeCycles(list) {
		break
	}
	if n := len(CycleFeatures()); n != len(cycleFeatures) {
		t.Errorf("%d cycle features", n)
	}
}
