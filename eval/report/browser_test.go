package report

import (
	"context"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// TestPagesInBrowser opens the pages in Chromium, which is started once. It is
// skipped where there is none.
func TestPagesInBrowser(t *testing.T) {
	browser := startBrowser(t)
	for _, tt := range []struct {
		name, html string
		checks     []func(*testing.T, context.Context)
	}{
		{"report", written(t, examplePage(t, "rec", 10*ms, 45*ms)), []func(*testing.T, context.Context){checkSorting}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), tt.name+".html")
			if err := os.WriteFile(path, []byte(tt.html), 0o644); err != nil {
				t.Fatal(err)
			}
			address := (&url.URL{Scheme: "file", Path: path}).String()
			ctx, events := open(t, browser, address)
			for _, check := range append(tt.checks, checkFigures, checkPlayer, checkWidth, checkSchemes, checkPrint) {
				check(t, ctx)
			}
			events.check(t, address)
			checkPolicy(t, ctx) // last, since it makes a request
		})
	}
	t.Run("teaching", func(t *testing.T) { testTeachingPages(t, browser) })
}

// startBrowser starts Chromium for the duration of a test.
func startBrowser(t *testing.T) context.Context {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil {
		t.Skip("no chromium on the path: install Debian's package chromium to test the pages in a browser")
	}
	options := append(slices.Clone(chromedp.DefaultExecAllocatorOptions[:]),
		chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.WindowSize(1200, 900), chromedp.WSURLReadTimeout(time.Minute),
		chromedp.Flag("autoplay-policy", "no-user-gesture-required"))
	allocator, cancelAllocator := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(cancelAllocator)
	browser, cancelBrowser := chromedp.NewContext(allocator)
	t.Cleanup(cancelBrowser)
	do(t, browser) // starts it
	return browser
}

// open opens a page in a new tab.
func open(t *testing.T, browser context.Context, address string) (context.Context, *events) {
	t.Helper()
	tab, cancelTab := chromedp.NewContext(browser)
	t.Cleanup(cancelTab)
	ctx, cancel := context.WithTimeout(tab, 2*time.Minute)
	t.Cleanup(cancel)
	e := &events{}
	chromedp.ListenTarget(ctx, e.add)
	do(t, ctx, network.Enable(), log.Enable(), chromedp.Navigate(address), chromedp.WaitReady("main"))
	return ctx, e
}

// events are the errors and requests of a page.
type events struct {
	mu       sync.Mutex
	errors   []string
	requests []string
}

func (e *events) add(event any) {
	e.mu.Lock()
	defer e.mu.Unlock()
	switch v := event.(type) {
	case *runtime.EventExceptionThrown:
		e.errors = append(e.errors, v.ExceptionDetails.Error())
	case *runtime.EventConsoleAPICalled:
		e.errors = append(e.errors, fmt.Sprintf("console.%s", v.Type))
	case *log.EventEntryAdded:
		e.errors = append(e.errors, fmt.Sprintf("%s: %s", v.Entry.Level, v.Entry.Text))
	case *network.EventRequestWillBeSent:
		e.requests = append(e.requests, v.Request.URL)
	}
}

// check makes sure that a page had no error and requested only itself.
func (e *events) check(t *testing.T, address string) {
	t.Helper()
	e.mu.Lock()
	defer e.mu.Unlock()
	if len(e.errors) > 0 {
		t.Errorf("errors of the page: %q", e.errors)
	}
	for _, r := range e.requests {
		if r != address && !strings.HasPrefix(r, "data:") {
			t.Errorf("the page requests %s", r)
		}
	}
	if len(e.requests) == 0 {
		t.Error("no request was seen, not even that of the page")
	}
}

func do(t *testing.T, ctx context.Context, actions ...chromedp.Action) {
	t.Helper()
	if err := chromedp.Run(ctx, actions...); err != nil {
		t.Fatal(err)
	}
}

// value evaluates an expression in the page.
func value[T any](t *testing.T, ctx context.Context, expression string, options ...chromedp.EvaluateOption) (v T) {
	t.Helper()
	do(t, ctx, chromedp.Evaluate(expression, &v, options...))
	return v
}

// eventually waits until an expression is true.
func eventually(t *testing.T, ctx context.Context, expression string) {
	t.Helper()
	for range 200 {
		if value[bool](t, ctx, expression) {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Errorf("never true: %s", expression)
}

// checkPolicy makes a script request an image from the network, which the policy
// of the page must refuse.
func checkPolicy(t *testing.T, ctx context.Context) {
	t.Helper()
	refused := value[bool](t, ctx, `new Promise((done) => {
		document.addEventListener('securitypolicyviolation', (e) => done(e.violatedDirective === 'img-src'));
		const image = new Image();
		image.onload = () => done(false);
		image.src = 'http://127.0.0.1:9/x.png';
		setTimeout(() => done(false), 5000);
	})`, awaited)
	if !refused {
		t.Error("an image from the network was not refused")
	}
}

func checkFigures(t *testing.T, ctx context.Context) {
	t.Helper()
	if n := value[int](t, ctx, `document.querySelectorAll('svg.drawn').length`); n < 2 {
		t.Errorf("%d figures", n)
	}
	do(t, ctx, chromedp.Evaluate(`for (const fold of document.querySelectorAll('details')) fold.open = true`, nil))
	if bad := value[[]string](t, ctx, `[...document.querySelectorAll('svg.drawn')].filter((s) => s.checkVisibility()).filter((s) => {
		const box = s.getBoundingClientRect();
		const told = s.getAttribute('aria-labelledby').split(' ').every((id) => document.getElementById(id)?.textContent.length > 5);
		return box.width < 200 || box.height < 80 || !told || !s.querySelector('path');
	}).map((s) => s.getAttribute('aria-labelledby'))`); len(bad) > 0 {
		t.Errorf("figures that are empty, small or without a text: %q", bad)
	}
}

// checkPlayer operates the first player with the keyboard alone.
func checkPlayer(t *testing.T, ctx context.Context) {
	t.Helper()
	const cursor = `document.querySelector('.player .cursor').getAttribute('transform')`
	start := value[string](t, ctx, cursor)
	do(t, ctx, chromedp.Focus(".player .play", chromedp.ByQuery), chromedp.KeyEvent(" "))
	eventually(t, ctx, `!document.querySelector('.player audio').paused && document.querySelector('.player audio').currentTime > 0.3`)
	eventually(t, ctx, cursor+` !== '`+start+`'`)
	if text := value[string](t, ctx, `document.querySelector('.player .play').textContent`); text != "Pause" {
		t.Errorf("while it plays the button says %q", text)
	}
	do(t, ctx, chromedp.KeyEvent(kb.Enter))
	eventually(t, ctx, `document.querySelector('.player .play').textContent === 'Play'`)
	value[bool](t, ctx, `new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(() => done(true))))`, awaited)

	// At 0.35 s both examples are in the first S1.
	do(t, ctx, chromedp.Evaluate(`(() => { const s = document.querySelector('.player input'); s.value = 0.3; s.focus(); })()`, nil),
		chromedp.KeyEvent(kb.ArrowRight))
	eventually(t, ctx, `Math.abs(document.querySelector('.player audio').currentTime - 0.35) < 1e-3`)
	eventually(t, ctx, `/^0\.35 s · (reference|state): S1/.test(document.querySelector('.player .now').textContent)`)
	eventually(t, ctx, `document.querySelector('.player input').getAttribute('aria-valuetext').includes('S1')`)
	eventually(t, ctx, `(() => {
		const p = document.querySelector('[data-left]'), x = Number(/translate\(([\d.]+)/.exec(`+cursor+`)[1]);
		return Math.abs(x - (p.dataset.right - p.dataset.left) * 0.35 / p.dataset.seconds) < 0.02;
	})()`)
	do(t, ctx, chromedp.Focus(".player .slow", chromedp.ByQuery), chromedp.KeyEvent(" "))
	eventually(t, ctx, `document.querySelector('.player audio').playbackRate === 0.5`)
}

// checkWidth makes sure that nothing is wider than a telephone.
func checkWidth(t *testing.T, ctx context.Context) {
	t.Helper()
	do(t, ctx, chromedp.EmulateViewport(360, 740))
	if bad := value[[]string](t, ctx, `[...document.querySelectorAll('body *')]
		.filter((e) => !e.closest('.strip, .rows, .skip') && e.getBoundingClientRect().right > 360.5)
		.map((e) => e.tagName + '.' + e.className + ' ' + e.textContent.slice(0, 30))`); len(bad) > 0 {
		t.Errorf("wider than 360 px: %q", bad)
	}
	if width := value[int](t, ctx, `document.documentElement.scrollWidth`); width > 360 {
		t.Errorf("the page is %d px wide on a screen of 360", width)
	}
	do(t, ctx, chromedp.EmulateViewport(1200, 900))
}

var rgb = regexp.MustCompile(`\d+`)

// checkSchemes makes sure that text has contrast in the light and the dark scheme.
func checkSchemes(t *testing.T, ctx context.Context) {
	t.Helper()
	for scheme, dark := range map[string]bool{"light": false, "dark": true} {
		do(t, ctx, emulation.SetEmulatedMedia().WithFeatures([]*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}))
		colours := value[[]string](t, ctx, `['backgroundColor', 'color'].map((k) => getComputedStyle(document.body)[k])
			.concat(getComputedStyle(document.querySelector('svg.drawn text')).fill)`)
		var light []int
		for _, c := range colours {
			sum := 0
			for _, part := range rgb.FindAllString(c, 3) {
				var v int
				fmt.Sscan(part, &v)
				sum += v
			}
			light = append(light, sum/3)
		}
		if paperIsDark := light[0] < 128; paperIsDark != dark || abs(light[0]-light[1]) < 150 || abs(light[0]-light[2]) < 150 {
			t.Errorf("%s: paper, text and text of figures are %q", scheme, colours)
		}
	}
	do(t, ctx, emulation.SetEmulatedMedia())
}

func abs(x int) int { return max(x, -x) }

// checkPrint prints the page, without the elements that are of no use on paper.
func checkPrint(t *testing.T, ctx context.Context) {
	t.Helper()
	do(t, ctx, emulation.SetEmulatedMedia().WithMedia("print"))
	if shown := value[[]string](t, ctx, `[...document.querySelectorAll('nav, .controls, .cursor, audio')]
		.filter((e) => getComputedStyle(e).display !== 'none').map((e) => e.tagName)`); len(shown) > 0 {
		t.Errorf("printed controls: %q", shown)
	}
	do(t, ctx, emulation.SetEmulatedMedia().WithMedia(""))
	var pdf []byte
	do(t, ctx, chromedp.ActionFunc(func(ctx context.Context) (err error) {
		pdf, _, err = page.PrintToPDF().WithPrintBackground(true).Do(ctx)
		return err
	}))
	sheets := len(regexp.MustCompile(`/Type\s*/Page\b`).FindAll(pdf, -1))
	if sheets < 1 || sheets > 40 {
		t.Errorf("printed on %d pages", sheets)
	}
}

// checkSorting sorts a table by the button in the heading of a column: first
// ascending, then descending, with cells without a value at the end.
func checkSorting(t *testing.T, ctx context.Context) {
	t.Helper()
	const column = `[...document.querySelectorAll('#strata-table tbody tr')].map((r) => r.cells[3].dataset.value)`
	press := func(want string, falling bool) {
		t.Helper()
		do(t, ctx, chromedp.Evaluate(`document.querySelector('#strata-table').closest('details').open = true`, nil), chromedp.Focus("#strata-table thead th:nth-child(4) button", chromedp.ByQuery), chromedp.KeyEvent(kb.Enter))
		if got := value[string](t, ctx, `document.querySelector('#strata-table thead th:nth-child(4)').getAttribute('aria-sort')`); got != want {
			t.Errorf("aria-sort is %q, want %q", got, want)
		}
		values := value[[]string](t, ctx, column)
		if len(values) < 2 {
			t.Fatalf("%d strata", len(values))
		}
		for i := 1; i < len(values); i++ {
			a, b := values[i-1], values[i]
			if a == "" && b != "" || b != "" && (a > b) != falling && a != b {
				t.Errorf("%s: %q before %q", want, a, b)
			}
		}
	}
	press("ascending", false)
	press("descending", true)
}

// awaited makes an evaluation wait for a promise.
func awaited(p *runtime.EvaluateParams) *runtime.EvaluateParams { return p.WithAwaitPromise(true) }
