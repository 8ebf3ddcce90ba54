//go:build proof

package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// sound is a page with nothing wrong in it; a fault takes the place of FAULT.
const sound = `<!doctype html><html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<title>A page</title><style>:root { color-scheme: light dark; } body { background: #fff; color: #222; } p { margin: 8px; }
@media (prefers-color-scheme: dark) { body { background: #111; color: #eee; } }</style></head>
<body><main><h1>A page</h1><p>Words.</p>FAULT</main></body></html>`

// TestProofPagesChecker plants one fault at a time and sees that it is found,
// in the view in which it shows.
func TestProofPagesChecker(t *testing.T) {
	b := openBrowser(t)
	dir := t.TempDir()
	b.shots = "" // nobody wants to look at faults
	desk, dark, phone := view{1280, 900, false, true}, view{1280, 900, true, true}, view{320, 640, false, false}
	for name, c := range map[string]struct {
		fault string
		at    view
		want  string // in what is found; empty: nothing may be found
	}{
		"nothing, in light":    {"", desk, ""},
		"nothing, in the dark": {"", dark, ""},
		"nothing, on a phone":  {"", phone, ""},
		"gray words":           {`<p style="color:#999">Words.</p>`, desk, "color-contrast"},
		"words dark on dark":   {`<p style="color:#222">Words.</p>`, dark, "color-contrast"},
		"words in light alone": {`<p style="color:#222">Words.</p>`, desk, ""},
		"an image from elsewhere": {`<img alt="" src="https://pictures.example/a.png">`, phone,
			"it fetches https://pictures.example/a.png"},
		"a style sheet from elsewhere": {`<style>@import "https://styles.example/a.css";</style>`, phone, "it fetches https://styles.example/a.css"},
		"a font from elsewhere": {`<style>@font-face { font-family: F; src: url(https://fonts.example/f.woff2); }</style><p style="font-family:F">F</p>`,
			phone, "it fetches https://fonts.example/f.woff2"},
		"a warning":              {`<script>console.warn("odd")</script>`, phone, "the console says: warning"},
		"an error":               {`<script>nothing.at.all()</script>`, phone, "the console says: exception"},
		"too wide for a phone":   {`<p style="width:400px">Words.</p>`, phone, "px wide on a screen of 320 px"},
		"too wide once opened":   {`<details><summary>More</summary><p style="width:400px">Words.</p></details>`, phone, "320 px, unfolded"},
		"gray words, folded":     {`<details><summary>More</summary><p style="color:#999">Words.</p></details>`, desk, "color-contrast"},
		"outside the landmarks":  {`</main><p>Words.</p><main aria-label="second">`, desk, "region"},
		"an image without words": {`<svg role="img" width="10" height="10"></svg>`, desk, "svg-img-alt"},
		"gray words in a chart": {`<svg role="img" aria-label="Chart" width="90" height="30"><text x="5" y="20" fill="#999">Words</text></svg>`,
			desk, "chart words of contrast 2.85: Words"},
		"words on a bar of a chart": {`<svg role="img" aria-label="Chart" width="90" height="30"><rect width="90" height="30" fill="#333"/>` +
			`<text x="5" y="20" fill="#222">Words</text></svg>`, desk, "chart words of contrast 1.26: Words"},
		"words beside a bar": {`<svg role="img" aria-label="Chart" width="90" height="60"><rect y="30" width="90" height="30" fill="#333"/>` +
			`<text x="5" y="20" fill="#222">Words</text></svg>`, desk, ""},
		"a chart black on black": {`<svg role="img" aria-label="Chart" width="90" height="30"><text x="5" y="20">Words</text></svg>`,
			dark, "chart words of contrast"},
		"headings that skip":     {`<h4>Words</h4>`, desk, "heading-order"},
		"a field without a name": {`<form><input type="text"></form>`, desk, "label"},
	} {
		path := filepath.Join(dir, "page.html")
		if err := os.WriteFile(path, []byte(strings.Replace(sound, "FAULT", c.fault, 1)), 0o600); err != nil {
			t.Fatal(err)
		}
		found := strings.Join(b.look("checker", "file://"+path, c.at), "\n")
		if (c.want == "") != (found == "") || !strings.Contains(found, c.want) {
			t.Errorf("%s: found %q, want %q", name, found, c.want)
		}
	}
	sheets := `<p style="break-before:page">Words.</p>`
	for n, fault := range []string{"", sheets, sheets + sheets} {
		path := filepath.Join(dir, "page.html")
		if err := os.WriteFile(path, []byte(strings.Replace(sound, "FAULT", fault, 1)), 0o600); err != nil {
			t.Fatal(err)
		}
		for _, paper := range []string{"letter", "a4"} {
			pdf, got := b.print("checker", "file://"+path, paper)
			if texts := pageTexts(t, pdf); got != n+1 || len(texts) != n+1 {
				t.Errorf("%d sheets of %s are counted as %d, and read back as %d", n+1, paper, got, len(texts))
			}
		}
	}
}
