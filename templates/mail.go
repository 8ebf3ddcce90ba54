package templates

import (
	"html"
	htmltemplate "html/template"
	"regexp"
	"strings"
)

// dailyPage is what the page of a daily mail sees: sentences in the words of
// the text templates, and the exercises with all that is known of them.
type dailyPage struct {
	Lang    string
	Title   string
	Greet   string
	From    string // the first mail: who writes
	Note    string
	Items   []item
	Caution string
	Support string
	Wear    string
	Skin    string
	Ask     string
	Links   *dayLinks // nil: answers come by mail alone
	Stop    string    // where one mail after the other can be ended; empty: by answer alone
	Contact string
	Clinic  string
}

func (l *language) dailyMail(v day) string {
	page := dailyPage{
		Lang:    l.code,
		Title:   l.line("subject/daily", v),
		Note:    l.line("note", v),
		Items:   v.Items,
		Wear:    l.line("wear", v),
		Skin:    l.line("skin", v),
		Ask:     l.line("ask", v),
		Contact: l.line("contact/full", v.Clinic),
		Clinic:  v.Clinic.Name,
	}
	page.Greet = l.greetPage(v.dayFacts)
	page.Links, page.Stop = l.linksOf(v)
	if v.Support {
		page.Support = l.line("support", v)
	}
	if v.First {
		page.From = l.line("from", v)
	}
	if len(v.Items) > 0 {
		page.Caution = l.line("caution", v)
	}
	return l.html("mail/daily", page)
}

// greetPage is the greeting of a page, with whom it is for.
func (l *language) greetPage(v dayFacts) string {
	var parts []string
	if v.Name != "" {
		parts = append(parts, l.line("greet", v.Name))
	}
	if v.For != "" && !v.First {
		parts = append(parts, l.line("greet/for", v.For))
	}
	return strings.Join(parts, " ")
}

// answerPage is what the page of an answer sees.
type answerPage struct {
	Lang, Title string
	Lines       []string
}

func (l *language) answerMail(title string, lines []string) string {
	return l.html("mail/answer", answerPage{Lang: l.code, Title: title, Lines: lines})
}

// unbroken finds the numbers that read badly when a line ends inside them:
// phone numbers, ranges such as 0-10, and hours as [brief] writes them.
var unbroken = regexp.MustCompile(`\+?\d+(?:[- ]\d+)+|\d+ h\b`)

// keepNumbers escapes a sentence for a page and keeps its numbers on one line.
func keepNumbers(s string) htmltemplate.HTML {
	var b strings.Builder
	at := 0
	for _, m := range unbroken.FindAllStringIndex(s, -1) {
		b.WriteString(html.EscapeString(s[at:m[0]]))
		b.WriteString(`<span style="white-space:nowrap;">`)
		b.WriteString(html.EscapeString(s[m[0]:m[1]]))
		b.WriteString(`</span>`)
		at = m[1]
	}
	b.WriteString(html.EscapeString(s[at:]))
	return htmltemplate.HTML(b.String()) // every piece is escaped above
}
