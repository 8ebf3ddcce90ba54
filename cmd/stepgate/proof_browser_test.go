//go:build proof

package main

import (
	"context"
	"encoding/json"
	"fmt"
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
	cdplog "github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// browser is a real browser without a window, with one tab. What it fetches
// and what it complains of is written down.
type browser struct {
	t     *testing.T
	ctx   context.Context
	axe   string // the source of the accessibility engine
	shots string // folder for pictures to look at; empty: none

	mu       sync.Mutex
	fetched  []string
	console  []string
	recorded bool // the page is open: what comes now is by the checks themselves
}

// openBrowser starts it. What is missing is said with how to get it: a check
// that does not run is no check.
func openBrowser(t *testing.T) *browser {
	t.Helper()
	path := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if found, err := exec.LookPath(name); err == nil && path == "" {
			path = found
		}
	}
	if path == "" {
		t.Fatal("there is no browser; get one with: apt-get install -y chromium")
	}
	b := &browser{t: t, axe: accessibilityEngine(t), shots: os.Getenv("STEPGATE_SHOTS")}
	options := slices.Concat(chromedp.DefaultExecAllocatorOptions[:], []chromedp.ExecAllocatorOption{
		chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.UserDataDir(t.TempDir()),
		// Whatever a page asks for, nothing leaves the machine.
		chromedp.Flag("host-resolver-rules", "MAP * ~NOTFOUND, EXCLUDE 127.0.0.1"),
		chromedp.Flag("hide-scrollbars", true),
	})
	ctx, stop := chromedp.NewExecAllocator(t.Context(), options...)
	t.Cleanup(stop)
	ctx, closeTab := chromedp.NewContext(ctx)
	t.Cleanup(closeTab)
	b.ctx = ctx
	if err := chromedp.Listen(ctx, b.hear); err != nil {
		t.Fatalf("start %s: %v", path, err)
	}
	t.Cleanup(func() { _ = chromedp.Cancel(ctx) }) // it ends with the test either way
	return b
}

// accessibilityEngine reads axe-core.
func accessibilityEngine(t *testing.T) string {
	t.Helper()
	const get = "get it with: npm install --prefix DIR axe-core@4.11.0; export STEPGATE_AXE=DIR/node_modules/axe-core/axe.min.js"
	path := os.Getenv("STEPGATE_AXE")
	if path == "" {
		t.Fatal("STEPGATE_AXE does not name the accessibility engine; " + get)
	}
	source, err := os.ReadFile(path)
	if err != nil || len(source) < 100_000 {
		t.Fatalf("STEPGATE_AXE=%s holds no accessibility engine (%v); %s", path, err, get)
	}
	return string(source)
}

// hear writes down what the tab fetches and complains of. It must be quick.
func (b *browser) hear(event any) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.recorded {
		return
	}
	switch e := event.(type) {
	case *network.EventRequestWillBeSent:
		b.fetched = append(b.fetched, e.Request.URL)
	case *runtime.EventConsoleAPICalled:
		b.console = append(b.console, string(e.Type))
	case *runtime.EventExceptionThrown:
		b.console = append(b.console, "exception "+e.ExceptionDetails.Text)
	case *cdplog.EventEntryAdded:
		if e.Entry.Level != "verbose" {
			b.console = append(b.console, string(e.Entry.Level)+" "+e.Entry.Text)
		}
	}
}

// view is how a page is looked at.
type view struct {
	width, height int64
	dark          bool
	engine        bool // run the accessibility engine too
}

func (v view) String() string {
	color := "light"
	if v.dark {
		color = "dark"
	}
	return fmt.Sprintf("%d-%s", v.width, color)
}

// views are how every page is looked at: on a desk and on phones, in light
// colors and in dark ones. The engine, which is slow, sees each color and each
// width once.
func views() []view {
	return []view{
		{1280, 900, false, true}, {375, 812, false, false}, {320, 640, false, false},
		{1280, 900, true, false}, {375, 812, true, false}, {320, 640, true, true},
	}
}

func (b *browser) do(what string, steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, patience)
	defer cancel()
	if err := chromedp.Do(ctx, steps...); err != nil {
		b.t.Fatalf("%s: %v", what, err)
	}
}

// look opens a page and says all that is wrong with it in this view.
func (b *browser) look(name, url string, v view) []string {
	b.t.Helper()
	b.open(url, v)
	var wrong []string
	b.mu.Lock()
	b.recorded = true
	for i, got := range b.fetched {
		if own := i == 0 && got == url; !own && !strings.HasPrefix(got, "data:") {
			wrong = append(wrong, "it fetches "+got)
		}
	}
	for _, line := range b.console {
		wrong = append(wrong, "the console says: "+line)
	}
	b.mu.Unlock()
	b.picture(name+"-"+v.String(), func(ctx context.Context) ([]byte, error) { return chromedp.Run(ctx, chromedp.FullScreenshot(100)) }, ".png")
	wrong = append(wrong, b.width("")...)
	b.do("unfold", chromedp.Evaluate[chromedp.Void](`document.querySelectorAll("details").forEach(d => d.open = true)`))
	wrong = append(wrong, b.width(", unfolded")...)
	if v.engine {
		wrong = append(wrong, b.accessible()...)
	}
	return wrong
}

// open opens a page in a view, with a clean record.
func (b *browser) open(url string, v view) {
	b.t.Helper()
	scheme := "light"
	if v.dark {
		scheme = "dark"
	}
	b.do("set up the view", chromedp.EmulateViewport(v.width, v.height), media(scheme), chromedp.Navigate("about:blank"))
	b.mu.Lock()
	b.fetched, b.console, b.recorded = nil, nil, false
	b.mu.Unlock()
	b.do("open "+url, chromedp.Navigate(url))
}

// media sets the colors that the reader prefers.
func media(scheme string) chromedp.Action[chromedp.Void] {
	return chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
			Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
		return err
	})
}

// width says whether the page has to be moved sideways to be read.
func (b *browser) width(when string) []string {
	b.t.Helper()
	got := evaluate[[2]int](b, `[document.documentElement.scrollWidth, window.innerWidth]`)
	if got[0] > got[1] {
		return []string{fmt.Sprintf("it is %d px wide on a screen of %d px%s", got[0], got[1], when)}
	}
	return nil
}

// evaluate runs a line of script in the page.
func evaluate[T any](b *browser, script string) T {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, patience)
	defer cancel()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](script, chromedp.EvalAwaitPromise))
	if err != nil {
		b.t.Fatalf("%.60s: %v", script, err)
	}
	return v
}

// accessible runs axe-core: the rules of WCAG 2.2 up to level AA, and its best
// practice, which has the landmarks. A contrast it can't decide counts as one
// that is too low; in charts it is measured instead, see chartContrast.
func (b *browser) accessible() []string {
	b.t.Helper()
	b.do("load the accessibility engine", chromedp.Evaluate[chromedp.Void](b.axe+";undefined"))
	raw := evaluate[string](b, `axe.run(document, {runOnly: {type: "tag", values: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}})
		.then(r => JSON.stringify({passes: r.passes.length, violations: r.violations, incomplete: r.incomplete.filter(i => i.id === "color-contrast")
			.map(i => ({...i, nodes: i.nodes.filter(n => !document.querySelector(n.target.join(" ")).closest("svg"))}))}))`)
	type rule struct {
		ID, Help string
		Nodes    []struct {
			HTML           string
			FailureSummary string
		}
	}
	var got struct {
		Passes                 int
		Violations, Incomplete []rule
	}
	if err := json.Unmarshal([]byte(raw), &got); err != nil {
		b.t.Fatalf("read what the accessibility engine found: %v", err)
	}
	if got.Passes < 5 {
		b.t.Fatalf("the accessibility engine passed %d rules: it did not look at the page", got.Passes)
	}
	wrong := evaluate[[]string](b, chartContrast)
	for _, r := range slices.Concat(got.Violations, got.Incomplete) {
		for _, n := range r.Nodes {
			wrong = append(wrong, fmt.Sprintf("%s (%s): %.200s; %s", r.ID, r.Help, n.HTML, strings.Join(strings.Fields(n.FailureSummary), " ")))
		}
	}
	return wrong
}

// sheet finds the pages of a PDF. The browser writes their objects plainly.
var sheet = regexp.MustCompile(`/Type\s*/Page[^s]`)

// print prints a page to PDF on a paper, and counts the sheets.
func (b *browser) print(name, url, paper string) (pdf []byte, sheets int) {
	b.t.Helper()
	size := map[string]chromedp.PaperSize{"letter": chromedp.PaperLetter, "a4": chromedp.PaperA4}[paper]
	b.open(url, view{1280, 900, true, false}) // dark on the screen; paper is white all the same
	ctx, cancel := context.WithTimeout(b.ctx, patience)
	defer cancel()
	pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF(func(p *page.PrintToPDFParams) { p.PaperWidth, p.PaperHeight = size.Width, size.Height }))
	if err != nil {
		b.t.Fatalf("print %s: %v", url, err)
	}
	if sheets = len(sheet.FindAll(pdf, -1)); sheets == 0 {
		b.t.Fatalf("no page was found in the print of %s", name)
	}
	b.picture(name+"-"+paper, func(context.Context) ([]byte, error) { return pdf, nil }, ".pdf")
	return pdf, sheets
}

// picture keeps what a person may want to look at.
func (b *browser) picture(name string, take func(context.Context) ([]byte, error), ext string) {
	b.t.Helper()
	if b.shots == "" {
		return
	}
	ctx, cancel := context.WithTimeout(b.ctx, patience)
	defer cancel()
	data, err := take(ctx)
	if err == nil {
		err = os.MkdirAll(b.shots, 0o755)
	}
	if err == nil {
		err = os.WriteFile(filepath.Join(b.shots, name+ext), data, 0o644)
	}
	if err != nil {
		b.t.Fatalf("keep a picture of %s: %v", name, err)
	}
}

// pageTexts reads a PDF back with an independent reader, a text for each page.
func pageTexts(t *testing.T, pdf []byte) []string {
	t.Helper()
	if _, err := exec.LookPath("pdftotext"); err != nil {
		t.Fatal("there is no pdftotext; get it with: apt-get install -y poppler-utils")
	}
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	cmd := exec.CommandContext(ctx, "pdftotext", "-raw", "-", "-")
	cmd.Stdin = strings.NewReader(string(pdf))
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("pdftotext: %v", err)
	}
	pages := strings.Split(string(out), "\f")
	return pages[:len(pages)-1]
}
