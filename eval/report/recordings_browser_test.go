package report

import (
	"context"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// Expressions in the report.
const (
	openedID = `document.querySelector('.viewer .player.open h4').textContent.replace('Recording ', '')`
	listed   = `[...document.querySelectorAll('.list tbody tr')].map((r) => r.cells[0].textContent)`
	counted  = `document.querySelector('.list .count').textContent`
	named    = `document.querySelector('.map-note').textContent`
)

// TestRecordingsInBrowser operates the map, the list and the viewer of the report, with
// names that must not become markup.
func TestRecordingsInBrowser(t *testing.T) {
	browser := startBrowser(t)
	page := examplePage(t, hostile, 70*ms, 45*ms)    // from the eighth recording on beyond the tolerance
	page.Recordings[5].Sound = exampleView("").Sound // one that is not chosen, with its sound
	if err := page.Recordings[5].Reduce(); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "report.html")
	if err := os.WriteFile(path, []byte(written(t, page)), 0o644); err != nil {
		t.Fatal(err)
	}
	address := (&url.URL{Scheme: "file", Path: path}).String()
	ctx, events := open(t, browser, address)
	id := func(i int) string { return page.Recordings[i].Recording }

	checkMap(t, ctx, page)
	checkFilters(t, ctx, page)
	checkKeys(t, ctx, id)
	checkOutlines(t, ctx)
	checkFolds(t, ctx)
	events.check(t, address)
}

// checkMap names and opens recordings in the map by the pointer and by the keys.
func checkMap(t *testing.T, ctx context.Context, page *Page) {
	t.Helper()
	if n := value[int](t, ctx, `document.querySelectorAll('.map .mark[role=option]').length`); n != len(page.Recordings) {
		t.Errorf("%d marks of %d recordings", n, len(page.Recordings))
	}
	outside := value[int](t, ctx, `(() => {
		const s = document.querySelector('.map svg[role=listbox]').getBoundingClientRect();
		return [...document.querySelectorAll('.map .mark[role=option]')].map((m) => m.getBoundingClientRect())
			.filter((b) => b.left < s.left - 1 || b.right > s.right + 1 || b.top < s.top - 1 || b.bottom > s.bottom + 1 || b.width < 2).length;
	})()`)
	if outside > 0 {
		t.Errorf("%d marks are outside of the map or too small", outside)
	}
	place := func(i int) (x, y float64) {
		xy := value[[]float64](t, ctx, fmt.Sprintf(`(() => { const m = document.querySelector('#mark-%d'); m.scrollIntoView({ block: 'center', behavior: 'instant' }); const b = m.getBoundingClientRect(); return [b.left + b.width / 2, b.top + b.height / 2]; })()`, i))
		return xy[0], xy[1]
	}
	for _, by := range []string{"", "0"} { // person, then the first label
		do(t, ctx, chromedp.Evaluate(`document.querySelector('#map-by').value = '`+by+`'; document.querySelector('#map-by').dispatchEvent(new Event('change'))`, nil))
		x, y := place(9)
		do(t, ctx, chromedp.MouseEvent("mouseMoved", x, y))
		if got := value[string](t, ctx, named); !strings.HasPrefix(got, page.Recordings[9].Recording+" · person ") || !strings.Contains(got, " · F1 ") {
			t.Errorf("grouped by %q, the pointer names %q", by, got)
		}
	}
	x, y := place(9)
	do(t, ctx, chromedp.MouseClickXY(x, y))
	if got := value[string](t, ctx, openedID); got != page.Recordings[9].Recording {
		t.Errorf("a click opens %q, want %q", got, page.Recordings[9].Recording)
	}

	do(t, ctx, chromedp.MouseEvent("mouseMoved", 1, 1), chromedp.Focus(`.map svg[role=listbox]`, chromedp.ByQuery), chromedp.KeyEvent(kb.ArrowRight))
	first := value[string](t, ctx, named)
	do(t, ctx, chromedp.KeyEvent(kb.ArrowLeft))
	second := value[string](t, ctx, named)
	do(t, ctx, chromedp.KeyEvent(kb.Enter))
	if opened := value[string](t, ctx, openedID); first == second || !strings.HasPrefix(second, opened+" · ") {
		t.Errorf("the keys name %q and then %q, and open %q", first, second, opened)
	}
	if label := value[string](t, ctx, `document.querySelector('#' + document.querySelector('.map svg[role=listbox]').getAttribute('aria-activedescendant')).getAttribute('aria-label')`); label != second {
		t.Errorf("the mark has the name %q, shown is %q", label, second)
	}

	classes := value[int](t, ctx, `document.querySelectorAll('.map-legend button').length`)
	sum := value[int](t, ctx, `[...document.querySelectorAll('.map-legend button')].reduce((n, b) => n + Number(/\((\d+)\)/.exec(b.textContent)[1]), 0)`)
	if sum != len(page.Recordings) || classes < 2 {
		t.Errorf("%d classes count %d recordings", classes, sum)
	}
	do(t, ctx, chromedp.Evaluate(`document.querySelector('.map-legend button').click()`, nil))
	if n := value[int](t, ctx, `document.querySelectorAll('.mark.faded').length`); n == 0 || n >= len(page.Recordings) {
		t.Errorf("a class leaves %d of %d recordings faded", n, len(page.Recordings))
	}
	do(t, ctx, chromedp.Evaluate(`document.querySelector('.map-legend button').click()`, nil))
	if n := value[int](t, ctx, `document.querySelectorAll('.mark.faded').length`); n != 0 {
		t.Errorf("without a class %d recordings are faded", n)
	}
}

// checkFilters filters and sorts the list.
func checkFilters(t *testing.T, ctx context.Context, page *Page) {
	t.Helper()
	all := len(page.Recordings)
	set := func(control, text string) string {
		return fmt.Sprintf(`{ const c = document.querySelector('#filter-%s'); c.value = %q; c.dispatchEvent(new Event('input', { bubbles: true })); }`, control, text)
	}
	for _, tt := range []struct {
		name, script string
		want         int
	}{
		{"id", set("text", "07"), 1},
		{"person", set("text", " p3"), 2},
		{"nobody", set("text", "nobody"), 0},
		{"label", set("label", "0") + set("value", "1"), all / 2},
		{"group", set("group", "1"), 2},
		{"sound", set("group", "sound"), 3},
		{"F1", set("low", "0") + set("high", "99.5"), 9},
		{"audit", set("reason", "0"), 1},
	} {
		do(t, ctx, chromedp.Evaluate(tt.script, nil))
		if n := value[int](t, ctx, listed+`.length`); n != tt.want {
			t.Errorf("by %s: %d recordings, want %d", tt.name, n, tt.want)
		}
		if text := value[string](t, ctx, counted); text != fmt.Sprintf("%d of %d recordings", tt.want, all) {
			t.Errorf("by %s: %q", tt.name, text)
		}
		if n := value[int](t, ctx, `document.querySelectorAll('.mark.faded').length`); n != all-tt.want {
			t.Errorf("by %s: %d marks are faded", tt.name, n)
		}
		do(t, ctx, chromedp.Evaluate(`document.querySelector('.filters').reset()`, nil))
		eventually(t, ctx, counted+fmt.Sprintf(` === '%d recordings'`, all))
	}
	for _, tt := range []struct {
		key, order string
		first      int
	}{{"id", "ascending", 0}, {"id", "descending", all - 1}, {"person", "ascending", 0}, {"f1", "ascending", 7}} {
		do(t, ctx, chromedp.Focus(`th[data-key=`+tt.key+`] button`, chromedp.ByQuery), chromedp.KeyEvent(kb.Enter))
		if order := value[string](t, ctx, `document.querySelector('th[data-key=`+tt.key+`]').getAttribute('aria-sort')`); order != tt.order {
			t.Errorf("%s is sorted %q, want %s", tt.key, order, tt.order)
		}
		if list := value[[]string](t, ctx, listed); len(list) != all || list[0] != page.Recordings[tt.first].Recording {
			t.Errorf("%s, %s: first %q of %d, want %q", tt.key, tt.order, list[0], len(list), page.Recordings[tt.first].Recording)
		}
	}
}

// checkKeys goes from one recording to the next by the keys, and plays.
func checkKeys(t *testing.T, ctx context.Context, id func(int) string) {
	t.Helper()
	do(t, ctx, chromedp.Evaluate(`document.querySelector('th[data-key=id] button').click(); document.querySelector('.list tbody tr').click(); document.activeElement.blur()`, nil))
	for _, tt := range []struct {
		key string
		at  int
	}{{"n", 1}, {"n", 2}, {"p", 1}, {"p", 0}, {"p", 0}} { // before the first there is none
		do(t, ctx, chromedp.KeyEvent(tt.key))
		if got := value[string](t, ctx, openedID); got != id(tt.at) {
			t.Errorf("after %s: %q is open, want %q", tt.key, got, id(tt.at))
		}
	}
	do(t, ctx, chromedp.KeyEvent("k"))
	eventually(t, ctx, `document.querySelector('.player.open audio').currentTime > 0.1`)
	do(t, ctx, chromedp.KeyEvent("n"))
	if n := value[int](t, ctx, `[...document.querySelectorAll('audio')].filter((a) => !a.paused).length`); n != 0 {
		t.Errorf("%d recordings sound on", n)
	}
	do(t, ctx, chromedp.Focus(`#filter-text`, chromedp.ByQuery), chromedp.KeyEvent("n"))
	if text := value[string](t, ctx, `document.querySelector('#filter-text').value`); text != "n" {
		t.Errorf("the field for text has %q, want what was typed", text)
	}
	do(t, ctx, chromedp.Evaluate(`document.querySelector('.filters').reset()`, nil))
}

// checkOutlines opens every recording: each has a drawing, those with sound play, and
// no name has become markup.
func checkOutlines(t *testing.T, ctx context.Context) {
	t.Helper()
	eventually(t, ctx, counted+`.indexOf('of') < 0`)
	do(t, ctx, chromedp.Evaluate(`window.bad = []; for (const row of document.querySelectorAll('.list tbody tr')) {
		row.click();
		const players = [...document.querySelectorAll('.viewer .player')].filter((p) => p.checkVisibility());
		const drawing = players[0]?.querySelector('svg');
		const blocks = players[0]?.querySelectorAll('rect[class="sound-1"]').length;
		if (players.length !== 1 || !(drawing.getBoundingClientRect().height > 80) || !players[0].id && blocks < 18 || row.getAttribute('aria-current') !== 'true') window.bad.push(row.textContent);
	}`, nil))
	if bad := value[[]string](t, ctx, `window.bad`); len(bad) > 0 {
		t.Errorf("recordings that are not drawn once: %q", bad)
	}
	if n := value[int](t, ctx, `document.scripts.length`); n != 2 {
		t.Errorf("%d scripts, want the page's own and its data", n)
	}
	// The one with a sound that is not chosen.
	do(t, ctx, chromedp.Evaluate(`document.querySelector('.list tbody tr[data-i="5"]').click(); document.activeElement.blur()`, nil), chromedp.KeyEvent("k"))
	eventually(t, ctx, `document.querySelector('.opened audio').currentTime > 0.35`)
	eventually(t, ctx, `document.querySelector('.opened .now').textContent.includes('reference: S1')`)
}

// checkFolds makes sure that folds print open, and that a link to a place in one opens it.
func checkFolds(t *testing.T, ctx context.Context) {
	t.Helper()
	const closed = `document.querySelectorAll('details:not([open])').length`
	before := value[int](t, ctx, closed)
	do(t, ctx, chromedp.Evaluate(`dispatchEvent(new Event('beforeprint'))`, nil))
	if n := value[int](t, ctx, closed); n != 0 || before < 5 {
		t.Errorf("%d of %d folds print closed", n, before)
	}
	do(t, ctx, chromedp.Evaluate(`dispatchEvent(new Event('afterprint'))`, nil))
	if n := value[int](t, ctx, closed); n != before {
		t.Errorf("%d folds are closed after printing, %d before", n, before)
	}
	do(t, ctx, chromedp.Evaluate(`document.querySelector('nav a[href="#rules"]').click()`, nil))
	eventually(t, ctx, `document.getElementById('rules').closest('details').open`)
}
