package segment

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/segment/hsmm"
	"phonocycle/pipeline/segment/option"
	"phonocycle/pipeline/signal"
)

// Each range holds both its ends and nothing beyond them.
func TestOptionsHaveLimits(t *testing.T) {
	const step = 1e-9
	for name, tt := range map[string]struct {
		field     func(*shannonOptions) *float64
		low, high float64
	}{
		"scale-quantile": {func(o *shannonOptions) *float64 { return &o.Scale }, 0.5, 1},
		"floor":          {func(o *shannonOptions) *float64 { return &o.Floor }, -10, 0.25},
		"threshold":      {func(o *shannonOptions) *float64 { return &o.Threshold }, 0.25, 10},
		"edge":           {func(o *shannonOptions) *float64 { return &o.Edge }, 0.001, 0.999},
		"split-s":        {func(o *shannonOptions) *float64 { return &o.Split }, 0, 0.2},
		"limits-sd":      {func(o *shannonOptions) *float64 { return &o.Limits }, 0.001, 1000},
		"min-rate":       {func(o *shannonOptions) *float64 { return &o.Slowest }, 10, 220 - 1e-6},
		"max-rate":       {func(o *shannonOptions) *float64 { return &o.Fastest }, 30 + 1e-6, 400},
	} {
		for v, ok := range map[float64]bool{tt.low: true, tt.high: true, tt.low - step - 1e-5: false, tt.high + step + 1e-5: false, math.NaN(): false} {
			o := defaultShannonOptions()
			*tt.field(o) = v
			if err := option.Check(o.Options()); (err == nil) != ok {
				t.Errorf("%s of %v: %v", name, v, err)
			}
		}
	}
	o := defaultShannonOptions()
	o.Edge = 2
	if err := option.Check(o.Options()); err == nil || err.Error() != "edge is 2: want 0.001 to 0.999" {
		t.Errorf("error %v", err)
	}
	if r := defaultRates(); r.shortestCycle() != 60./220 || r.longestCycle() != 2 {
		t.Errorf("cycles of %v to %v s", r.shortestCycle(), r.longestCycle())
	}
	r := Rates{Slowest: 150, Fastest: 100}
	if err := option.Check(r.options(nil, nil, option.Source{})); err == nil || err.Error() != "min-rate is 150: want 10 to below max-rate" {
		t.Errorf("error %v", err)
	}
}

// Posteriors 0.5, 0.2, 0.2, 0.1 of S1, systole, S2 and diastole in two frames of S1 and
// one of systole, by hand.
func TestAssess(t *testing.T) {
	var log []float64
	for range 3 {
		for _, p := range []float64{0.5, 0.2, 0.2, 0.1} {
			log = append(log, math.Log(p))
		}
	}
	got := assess(log, []hsmm.Run{{State: pcg.S1, Start: 0, End: 2}, {State: pcg.Systole, Start: 2, End: 3}})
	want := assessment{own: (0.5 + 0.5 + 0.2) / 3, loudness: (0.7 + 0.7 + 0.3) / 3, order: (0.3 + 0.3 + 0.1) / 3, margin: (2*math.Log(2.5) + math.Log(2)) / 3}
	for _, d := range []float64{got.own - want.own, got.loudness - want.loudness, got.order - want.order, got.margin - want.margin} {
		if math.Abs(d) > 1e-12 {
			t.Fatalf("assessment %+v, want %+v", got, want)
		}
	}
	work := normaliseLogs(log, nil)
	for i := range log {
		log[i] += 3 // does not count
	}
	normaliseLogs(log, work)
	for i, want := range []float64{0.5, 0.2, 0.2, 0.1} {
		if math.Abs(math.Exp(log[4+i])-want) > 1e-12 {
			t.Errorf("posterior %d is %v, want %v", i, math.Exp(log[4+i]), want)
		}
	}
	e := exchangeRegression{Intercept: 1, Slope: 2}
	for margin, want := range map[float64]float64{-0.5: 0.5, 0: 1 / (1 + math.E), math.Inf(1): 0, math.Inf(-1): 1} {
		if got := e.probability(margin); math.Abs(got-want) > 1e-12 {
			t.Errorf("margin %v: probability %v, want %v", margin, got, want)
		}
	}
	for _, tt := range []struct {
		e  exchangeRegression
		ok bool
	}{{e, true}, {exchangeRegression{1e6, -1e6}, true}, {exchangeRegression{1.1e6, 0}, false}, {exchangeRegression{0, math.NaN()}, false}} {
		if err := tt.e.check(); (err == nil) != tt.ok {
			t.Errorf("%+v: %v", tt.e, err)
		}
	}
	for _, tt := range []struct {
		p  [4]float64
		ok bool
	}{{[4]float64{0.1, 0.2, 0.1, 0.6}, true}, {[4]float64{1e-6, 0.2, 0.1, 1 - 1e-6}, true}, {[4]float64{0.1, 0.2, 0.1, 0}, false}, {[4]float64{1, 0.2, 0.1, 0.1}, false}} {
		if err := checkPriors(tt.p); (err == nil) != tt.ok {
			t.Errorf("priors %v: %v", tt.p, err)
		}
	}
}

// The parabola through −1, 0 and −3 about the middle has its top at −0.25, of 1/8.
func TestLagPeaksAreRefined(t *testing.T) {
	r := []float64{-9, -1, 0, -3, -9, -8.5, -8.25, -8.75, -9}
	got := lagPeaks(r, 1, 7)
	if len(got) != 2 || math.Abs(got[0].lag-1.75) > 1e-12 || math.Abs(got[0].height-0.125) > 1e-12 {
		t.Fatalf("peaks %v, want the first at 1.75 of 0.125", got)
	}
	// About 6: −8.5, −8.25, −8.75 has its top a sixth before, of −8.25 + 1/96.
	if math.Abs(got[1].lag-(6-1./6)) > 1e-12 || math.Abs(got[1].height-(-8.25+1./96)) > 1e-12 {
		t.Errorf("second peak %v", got[1])
	}
	if got := lagPeaks(r, 3, 4); len(got) != 1 || got[0] != (lagPeak{3, -3}) {
		t.Errorf("without a maximum: %v", got)
	}
}

// What a picked and named sound rests on, step by step, with frames of 10 ms.
func TestStepsOfShannonPeaks(t *testing.T) {
	envelope := []float64{0, 1, 3, 2, 0.5, 4, 4, 1, 0, 2}
	if got := peaksAbove(nil, envelope, 0, 10, 0.5); !slices.Equal(got, []int{2, 5, 9}) {
		t.Errorf("peaks at %v", got)
	}
	if got := peaksAbove([]int{7}, envelope, 3, 6, 1); !slices.Equal(got, []int{7, 3, 5}) {
		t.Errorf("peaks of a part at %v", got)
	}
	for from, want := range map[int]int{0: 5, 3: 5, 6: -1} {
		if got := highestMaximum(envelope, from, 10); got != want {
			t.Errorf("highest maximum from %d on is at %d, want %d", from, got, want)
		}
	}
	if got := highestMaximum(envelope, 0, 5); got != 2 {
		t.Errorf("highest maximum before 5 is at %d", got)
	}
	for gap, want := range map[int][]int{2: {2, 5, 9}, 3: {2, 9}} {
		p := peakPicker{peaks: []int{2, 5, 9}}
		if p.mergeSplit(envelope, gap); !slices.Equal(p.peaks, want) {
			t.Errorf("peaks up to %d apart become %v, want %v", gap, p.peaks, want)
		}
	}
	p := peakPicker{peaks: []int{4, 9}}
	if p.mergeSplit(envelope, 5); !slices.Equal(p.peaks, []int{9}) {
		t.Errorf("of 0.5 and 2 the peak at %v is kept", p.peaks)
	}
	// Intervals 10, 20, 30: mean 20, and the standard deviation of [signal.MeanSD].
	p = peakPicker{peaks: []int{0, 10, 30, 60}}
	low, high := p.limits(1)
	if math.Abs((low+high)/2-20) > 1e-12 || math.Abs((high-low)/2-math.Sqrt(200./3)) > 1e-9 {
		t.Errorf("limits %v to %v", low, high)
	}

	for _, tt := range []struct {
		peaks []int
		want  beat
	}{
		{[]int{20, 50, 100, 132, 182}, beat{systole: 32, diastole: 50}},
		{[]int{20, 70, 100, 150}, beat{systole: 30, diastole: 50}},
		{[]int{20, 50, 100, 130, 180, 260, 290, 340, 370}, beat{systole: 30, diastole: 50}}, // one lost
		{[]int{20, 60}, beat{systole: 26, diastole: 40}},
	} {
		if b := usualBeat(tt.peaks); b.diastole != tt.want.diastole || math.Abs(b.systole-tt.want.systole) > 1e-12 {
			t.Errorf("peaks %v: beat %+v, want %+v", tt.peaks, b, tt.want)
		}
	}
	s1, s2 := sound{state: pcg.S1}, sound{state: pcg.S2}
	at := func(s sound, frame int) sound { s.at = frame; return s }
	supposed := func(s sound) sound { s.supposed = true; return s }
	for _, tt := range []struct {
		sounds []sound
		want   float64
	}{
		{nil, 0},
		{[]sound{s1, at(s2, 36), at(s1, 80)}, 0.5}, // 30 + 6
		{[]sound{s1, at(s2, 37), at(s1, 80)}, 0},
		{[]sound{s1, at(s2, 30), at(s1, 100), at(s2, 130), at(s1, 160)}, 1},
		{[]sound{s1, at(s2, 30), at(s1, 101)}, 0}, // 80 + 21
		{[]sound{s1, supposed(at(s2, 30)), at(s1, 80)}, 0},
		{[]sound{s1, at(s2, 30), supposed(at(s1, 80))}, 0},
	} {
		if got := (beat{systole: 30, diastole: 50}).regularity(tt.sounds, 160); got != tt.want {
			t.Errorf("regularity of %+v is %v, want %v", tt.sounds, got, tt.want)
		}
	}
	// A peak of 4 on a level of 0 with the edge at a quarter: boundaries at 1.
	wide := []float64{0, 0, 0, 0.5, 1.5, 2, 4, 3, 2, 1.2, 0.9, 0, 0}
	one := []sound{{state: pcg.S1, at: 6}}
	if markBoundaries(one, wide, 0.25); one[0].start != 4 || one[0].end != 10 {
		t.Errorf("sound from %d to %d, want 4 to 10", one[0].start, one[0].end)
	}
	intervals := fmt.Sprint(soundIntervals([]sound{{state: pcg.S2, start: 4, end: 10}, {state: pcg.S1, start: 20, end: 25}}, 240))
	if want := "[systole [0.000 s, 0.040 s) S2 [0.040 s, 0.100 s) diastole [0.100 s, 0.200 s) S1 [0.200 s, 0.240 s)]"; intervals != want {
		t.Errorf("intervals %s, want %s", intervals, want)
	}
}

// Shares of annotated time by hand, and references that lack a state.
func TestStatePriors(t *testing.T) {
	at := func(from, to int, s pcg.State) pcg.Interval {
		return pcg.Interval{Start: time.Duration(from) * time.Millisecond, End: time.Duration(to) * time.Millisecond, State: s}
	}
	p, err := statePriors([][]pcg.Interval{
		{at(0, 100, pcg.S1), at(100, 300, pcg.Systole)}, {at(500, 600, pcg.S2), at(600, 1200, pcg.Diastole)}})
	if err != nil || !slices.EqualFunc(p[:], []float64{0.1, 0.2, 0.1, 0.6}, func(a, b float64) bool { return math.Abs(a-b) < 1e-12 }) {
		t.Errorf("priors %v, %v", p, err)
	}
	if _, err := statePriors([][]pcg.Interval{{at(0, 1, pcg.S1)}}); err == nil || !strings.HasPrefix(err.Error(), "no systole in 1 references: ") {
		t.Errorf("a state that is missing: %v", err)
	}
}

// Examples that cannot be learnt from are counted, errors end the sequence, and so
// does a context that is done.
func TestUsableExamples(t *testing.T) {
	good := Example{Source: Source{Recording: "good"}, X: heart(t, 60, 1, 2*time.Second).Samples, Reference: pcg.Reference{Intervals: []pcg.Interval{{End: 1, State: pcg.S1}}}}
	short, bare := good, good
	short.X, bare.Reference = good.X[:10], pcg.Reference{}
	fault := errors.New("fault")
	type given struct {
		e   Example
		err error
	}
	run := func(ctx context.Context, list ...given) (names []string, left int, last error) {
		for e, err := range usable(ctx, func(yield func(Example, error) bool) {
			for _, g := range list {
				if !yield(g.e, g.err) {
					return
				}
			}
		}, &left) {
			names, last = append(names, e.Recording), err
		}
		return names, left, last
	}
	ctx, cancel := context.WithCancel(context.Background())
	if names, left, err := run(ctx, given{good, nil}, given{short, nil}, given{bare, nil}, given{good, nil}); len(names) != 2 || left != 2 || err != nil {
		t.Errorf("%v, %d left out, %v", names, left, err)
	}
	if names, _, err := run(ctx, given{good, nil}, given{Example{}, fault}, given{good, nil}); len(names) != 2 || err != fault {
		t.Errorf("after a fault: %v, %v", names, err)
	}
	if names, left, err := run(ctx, given{short, nil}); len(names) != 1 || left != 1 || err == nil || err.Error() != "no annotated recording to fit to" {
		t.Errorf("nothing to learn from: %v, %d, %v", names, left, err)
	}
	cancel()
	if names, _, err := run(ctx, given{good, nil}, given{good, nil}); len(names) != 1 || !errors.Is(err, context.Canceled) {
		t.Errorf("after an interrupt: %v, %v", names, err)
	}
}

// A fit of duration-hmm says what it found of each state, and the method takes it:
// sounds stand above silences, and S1 above all.
func TestFitOfDurationHMM(t *testing.T) {
	var said []string
	params, err := durationHMM.Fit(context.Background(), nil, hearts(), Fitting{Progress: func(s string) { said = append(said, s) }})
	if err != nil {
		t.Fatal(err)
	}
	var m durationModel
	if err := readParams(params, &m); err != nil {
		t.Fatal(err)
	}
	states := m.Emission.states()
	if len(said) != 4 {
		t.Fatalf("said %q", said)
	}
	for j, g := range states {
		if want := fmt.Sprintf("%v: mean %.3f, SD %.3f", pcg.Cycle[j], g.Mean, g.SD); said[j] != want {
			t.Errorf("said %q, want %q", said[j], want)
		}
	}
	if s := states; !(s[0].Mean > s[2].Mean && s[2].Mean > s[1].Mean && s[2].Mean > s[3].Mean) || s[3].SD <= 0 {
		t.Errorf("distributions %+v", s)
	}
	file, err := (&Model{Method: durationHMM.Name, Params: params}).Marshal()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := durationHMM.New(durationHMM.Defaults(), file); err != nil {
		t.Error(err)
	}
	if _, err := durationHMM.Fit(context.Background(), nil, func(func(Example, error) bool) {}, Fitting{}); err == nil {
		t.Error("a fit to nothing has no error")
	}
	if got := PersonKey("circor", "12"); got != "circor/12" {
		t.Errorf("key %q", got)
	}
	m2 := Model{People: []string{"circor/12", "circor/7"}}
	if !m2.Knows("circor/7") || m2.Knows("pascal/7") {
		t.Error("a model knows the people of its data set alone")
	}
}

// The rhythms that are tried lie on a grid: shifts of three quarters of a standard deviation,
// the middle one zero, and cycles that grow by 4 % from the fastest to beyond the slowest.
func TestGridOfRhythms(t *testing.T) {
	for k, shift := range shifts {
		if want := 0.75 * float64(k-4); shift != want {
			t.Errorf("shift %d is %v, want %v", k, shift, want)
		}
	}
	if shifts[unshifted] != 0 || topCycles != 3 || cycleStep != 1.04 {
		t.Errorf("unshifted %v, %d cycles, step %v", shifts[unshifted], topCycles, cycleStep)
	}
}

// A sound begins and ends a recording: its peak is the first or the last frame.
func TestPeaksAtTheEnds(t *testing.T) {
	if got := peaksAbove(nil, []float64{3, 1, 0, 0, 1, 2}, 0, 6, 0.5); !slices.Equal(got, []int{0, 5}) {
		t.Errorf("peaks %v, want 0 and 5", got)
	}
}

// The front end brings a recording near one whatever its unit, by a power of two,
// so that nothing is rounded.
func TestRecordingsAreScaled(t *testing.T) {
	tone := make([]float64, 4*signal.AnalysisRate)
	for i := range tone {
		tone[i] = 0.7 * math.Sin(2*math.Pi*100*float64(i)/signal.AnalysisRate)
	}
	var want []float64
	for _, power := range []int{0, -30, 20} {
		x := make([]float64, len(tone))
		for i, v := range tone {
			x[i] = math.Ldexp(v, power)
		}
		f := loadedFrontEnd(t, x)
		if want == nil {
			want = slices.Clone(f.clean)
		}
		if peak := slices.Max(f.clean); peak < 0.5 || peak > 1 || !slices.Equal(f.clean, want) {
			t.Errorf("times 2^%d: peak %g, want that of the tone as it is, 0.7", power, peak)
		}
	}
}

// What exceeds three times the usual peak of half a second is a spike (Schmidt et
// al. 2010, from memory): a burst of 3.5 is removed and one of 2.7 is not.
func TestSpikesOfTheFrontEnd(t *testing.T) {
	for height, spikeless := range map[float64]bool{2.7: true, 3.5: false} {
		x := make([]float64, 10*signal.AnalysisRate)
		for i := range x {
			x[i] = 0.1 * math.Sin(2*math.Pi*100*float64(i)/signal.AnalysisRate)
			if i >= 5200 && i < 5300 {
				x[i] *= height
			}
		}
		if f := loadedFrontEnd(t, x); f.spikeless != spikeless {
			t.Errorf("a burst of %g times the rest: spikeless %v", height, f.spikeless)
		}
	}
}

func loadedFrontEnd(t *testing.T, x []float64) *frontEnd {
	t.Helper()
	f := newFrontEnd()
	if err := f.load(signal.NewWaveform(x)); err != nil {
		t.Fatal(err)
	}
	return f
}

func TestModelThatIsNoJSON(t *testing.T) {
	if _, err := ParseModel([]byte("{"), ""); err == nil || !strings.Contains(err.Error(), "it is not a file that fit wrote") {
		t.Errorf("half a model: %v", err)
	}
}
