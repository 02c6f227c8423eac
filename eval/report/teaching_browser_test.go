package report

import (
	"context"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// testTeachingPages operates teaching pages in the browser.
func testTeachingPages(t *testing.T, browser context.Context) {
	quiz, sheet := threeRecordings(), threeRecordings()
	quiz.Quiz, sheet.Sheet = true, true
	sheet.Recordings = append(sheet.Recordings, sheet.Recordings[0])
	for i := range 14 { // labels, as of a murmur
		sheet.Recordings[0].Labels = append(sheet.Recordings[0].Labels, Fact{fmt.Sprint("systolic murmur label ", i), "Holosystolic"})
	}
	single := exampleTeachingPage("rec", uneven(9))
	singleSheet := exampleTeachingPage("rec", uneven(9))
	singleSheet.Sheet = true
	for _, tt := range []struct {
		name   string
		page   *TeachingPage
		checks []func(*testing.T, context.Context)
	}{
		{"single", single, []func(*testing.T, context.Context){checkFigures, checkPlayer, checkHearts, checkWidth, checkSchemes, checkPrint, checkDeadHighlight}},
		{"several", threeRecordings(), []func(*testing.T, context.Context){checkChoice, checkDock, checkWidth}},
		{"quiz", quiz, []func(*testing.T, context.Context){checkQuiz}},
		{"sheet", sheet, []func(*testing.T, context.Context){checkSheet}},
		{"sheet of one", singleSheet, []func(*testing.T, context.Context){checkSheet}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "page.html")
			if err := os.WriteFile(path, []byte(teachingHTML(t, tt.page)), 0o644); err != nil {
				t.Fatal(err)
			}
			address := (&url.URL{Scheme: "file", Path: path}).String()
			ctx, events := open(t, browser, address)
			for _, check := range tt.checks {
				check(t, ctx)
			}
			events.check(t, address)
			if tt.name == "single" {
				checkPolicy(t, ctx) // last, since it makes a request
			}
		})
	}
}

// press gives an element the focus and presses a key.
func press(t *testing.T, ctx context.Context, selector, key string) {
	t.Helper()
	do(t, ctx, chromedp.Focus(selector, chromedp.ByQuery), chromedp.KeyEvent(key))
}

// checkHearts finds the heart of the state at the cursor in the dock and among the
// cards. At 0.35 s, where checkPlayer leaves it, that is S1.
func checkHearts(t *testing.T, ctx context.Context) {
	t.Helper()
	eventually(t, ctx, `[...document.querySelectorAll('.beating')].map((e) => e.dataset.heart + ' ' + e.className).join() === 'S1 heart beating,S1 state beating'`)
	press(t, ctx, ".loop", " ")
	if !value[bool](t, ctx, `document.querySelector('audio').loop && document.querySelector('.loop').getAttribute('aria-pressed') === 'true'`) {
		t.Error("the loop is off")
	}
	if !value[bool](t, ctx, `document.querySelector('audio').preservesPitch && document.querySelector('audio').playbackRate === 0.5`) {
		t.Error("half speed, which checkPlayer has left, does not keep the pitch")
	}
}

// checkChoice plays the recordings in turn by the keyboard, one at a time.
func checkChoice(t *testing.T, ctx context.Context) {
	t.Helper()
	const playing = `[...document.querySelectorAll('audio')].map((a) => a.paused ? '-' : 'p').join('')`
	press(t, ctx, ".play", kb.Enter)
	eventually(t, ctx, playing+` === 'p--' && document.querySelector('audio').currentTime > 0.2`)
	press(t, ctx, "input[type=radio]", kb.ArrowDown)
	eventually(t, ctx, playing+` === '-p-' && document.querySelectorAll('audio')[1].currentTime > 0.2`)
	eventually(t, ctx, `document.querySelector('.chosen').id === 'stretch-2' && document.querySelectorAll('.chosen').length === 1 && document.querySelector('.controls input[type=range]').max === '3'`)
	if text := value[string](t, ctx, `document.querySelector('.play').textContent`); text != "Pause" {
		t.Errorf("after the change of recording the button says %q", text)
	}
	press(t, ctx, ".play", kb.Enter)
	eventually(t, ctx, playing+` === '---'`)
	// A click on a figure chooses its recording and the time: 2.5 of 5 s.
	do(t, ctx, chromedp.Evaluate(`(() => {
		const shown = document.querySelector('#stretch-3'), svg = shown.querySelector('svg'), box = svg.getBoundingClientRect();
		const x = (Number(shown.dataset.left) + Number(shown.dataset.right)) / 2;
		svg.dispatchEvent(new MouseEvent('click', { bubbles: true, clientX: box.left + x / svg.viewBox.baseVal.width * box.width }));
	})()`, nil))
	eventually(t, ctx, `document.querySelectorAll('input[type=radio]')[2].checked && /^4\.50 s · state: /.test(document.querySelector('.now').textContent)`)
}

// checkDock makes sure that the heart and the controls are in view wherever the reader
// is between the first figure and the last card, on a laptop and on a telephone, and
// that they leave room for the rest.
func checkDock(t *testing.T, ctx context.Context) {
	t.Helper()
	do(t, ctx, chromedp.Evaluate(`document.documentElement.style.scrollBehavior = 'auto'`, nil))
	for _, size := range [][2]int64{{1280, 800}, {390, 844}, {768, 1024}} {
		do(t, ctx, chromedp.EmulateViewport(size[0], size[1]))
		for _, at := range []string{".recording .cursor", "#stretch-3 .cursor", ".state[data-heart=S1] h3", ".state[data-heart=diastole] .measured"} {
			do(t, ctx, chromedp.Evaluate(`document.querySelector('`+at+`').scrollIntoView({ block: 'center' })`, nil))
			if bad := value[[]string](t, ctx, `['.stage .beating svg', '.play', '.loop', '.slow', '.controls input[type=range]', '.now']
				.filter((s) => { const b = document.querySelector(s).getBoundingClientRect(); return b.top < 0 || b.bottom > innerHeight || b.height < 8; })`); len(bad) > 0 {
				t.Errorf("at %s on %d x %d out of view: %q", at, size[0], size[1], bad)
			}
			if covered := value[bool](t, ctx, `(() => {
				const b = document.querySelector('`+at+`').getBoundingClientRect(), d = document.querySelector('.dock').getBoundingClientRect();
				return b.left < d.right && d.left < b.right && b.bottom > d.top && d.bottom > b.top;
			})()`); covered {
				t.Errorf("on %d x %d the dock covers %s", size[0], size[1], at)
			}
		}
	}
	do(t, ctx, chromedp.EmulateViewport(1200, 900))
}

// checkQuiz reads the page as a student does, before and after the states are asked
// for with the keyboard.
func checkQuiz(t *testing.T, ctx context.Context) {
	t.Helper()
	const text = `[document.title, document.body.innerText, ...[...document.querySelectorAll('svg.drawn, [aria-label]')]
		.filter((e) => e.checkVisibility())
		.map((e) => (e.getAttribute('aria-label') ?? '') + [...e.querySelectorAll('title, desc')].map((d) => d.textContent).join(' '))].join('\n')`
	const drawn = `[...document.querySelectorAll('.recording [style*="fill:#0072B2"]')]
		.filter((e) => getComputedStyle(e.closest('.answer') ?? e).display !== 'none').length`
	telling := []string{"murmur__2", "Holo", "site", "per minute", "Measured", "state: "}
	read := func() (shown []string) {
		all := value[string](t, ctx, text)
		for _, part := range telling {
			if strings.Contains(all, part) {
				shown = append(shown, part)
			}
		}
		return shown
	}
	do(t, ctx, chromedp.Evaluate(`document.querySelector('input[type=range]').value = 0.3`, nil)) // the first S1 begins there
	press(t, ctx, "input[type=range]", kb.ArrowRight)
	if shown := read(); len(shown) > 0 || value[int](t, ctx, drawn) > 0 || value[int](t, ctx, `document.querySelectorAll('.beating').length`) > 0 {
		t.Errorf("before it is asked the page shows %q and states", shown)
	}
	press(t, ctx, ".ask", " ")
	eventually(t, ctx, `document.querySelectorAll('.beating').length === 2`)
	if shown := read(); len(shown) != len(telling) {
		t.Errorf("after it is asked the page shows only %q", shown)
	}
	if value[int](t, ctx, drawn) == 0 {
		t.Error("after it is asked no state is drawn")
	}
	press(t, ctx, ".ask", " ")
	if shown := read(); len(shown) > 0 {
		t.Errorf("hidden again the page shows %q", shown)
	}
}

// checkDeadHighlight makes sure that the highlight of a state stays on the screen.
func checkDeadHighlight(t *testing.T, ctx context.Context) {
	t.Helper()
	const marked = `(() => {
		const [a, b] = ['.state.beating', '.state:not(.beating)'].map((s) => getComputedStyle(document.querySelector(s)));
		return a.boxShadow !== b.boxShadow || a.borderColor !== b.borderColor || getComputedStyle(document.querySelector('.dock')).display !== 'none';
	})()`
	if !value[bool](t, ctx, marked) {
		t.Error("no state is marked on the screen")
	}
	do(t, ctx, emulation.SetEmulatedMedia().WithMedia("print"))
	if value[bool](t, ctx, marked) {
		t.Error("a state is marked in print")
	}
	do(t, ctx, emulation.SetEmulatedMedia())
}

// checkSheet prints a worksheet on paper of both usual sizes.
func checkSheet(t *testing.T, ctx context.Context) {
	t.Helper()
	for name, size := range map[string][2]float64{"A4": {8.27, 11.69}, "Letter": {8.5, 11}} {
		var pdf []byte
		do(t, ctx, chromedp.ActionFunc(func(ctx context.Context) (err error) {
			pdf, _, err = page.PrintToPDF().WithPaperWidth(size[1]).WithPaperHeight(size[0]).Do(ctx)
			return err
		}))
		if n := len(regexp.MustCompile(`/Type\s*/Page\b`).FindAll(pdf, -1)); n != 2 {
			t.Errorf("printed on %d pages %s, want 2", n, name)
		}
	}
}
