package notify

import (
	"slices"
	"strings"

	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"
)

// unshown are the elements nobody sees the text of.
var unshown = []atom.Atom{atom.Script, atom.Style, atom.Title, atom.Template, atom.Noscript, atom.Textarea, atom.Select}

// quoteClasses mark, in the HTML of common mail programs, what is quoted, its
// lead-in, or a signature: from memory.
var quoteClasses = []string{
	"gmail_quote", "gmail_quote_container", "gmail_attr", "gmail_signature",
	"yahoo_quoted", "moz-cite-prefix", "moz-signature", "protonmail_quote", "tutanota_quote",
}

// lineBreaks are the elements that begin a line of their own and end one.
var lineBreaks = []atom.Atom{
	atom.P, atom.Div, atom.Li, atom.Ul, atom.Ol, atom.Tr, atom.Table, atom.Hr, atom.Pre, atom.Section, atom.Article,
	atom.H1, atom.H2, atom.H3, atom.H4, atom.H5, atom.H6, atom.Blockquote, atom.Body,
}

// void elements have no end tag: the HTML standard, section 13.1.2.
var void = []atom.Atom{
	atom.Area, atom.Base, atom.Br, atom.Col, atom.Embed, atom.Hr, atom.Img, atom.Input, atom.Link, atom.Meta,
	atom.Source, atom.Track, atom.Wbr,
}

// htmlText makes text of HTML: a line for each block, without what is not
// shown. In the place of something quoted stands a line ">". It reads the
// text once from front to back, whatever is nested in what.
func htmlText(source string) string {
	var (
		out   strings.Builder
		skip  string // the element that is passed over; empty: none
		depth int    // how many of that name are open
	)
	z := html.NewTokenizer(strings.NewReader(source))
	for {
		switch z.Next() {
		case html.ErrorToken:
			return out.String()
		case html.TextToken:
			if skip == "" {
				writeShown(&out, string(z.Text()))
			}
		case html.StartTagToken, html.SelfClosingTagToken:
			t := z.Token()
			switch {
			case skip == t.Data:
				depth++
			case skip != "":
			case slices.Contains(void, t.DataAtom):
				if t.DataAtom == atom.Br || t.DataAtom == atom.Hr {
					out.WriteString("\n")
				}
			case setAside(t):
				skip, depth = t.Data, 1
				if !slices.Contains(unshown, t.DataAtom) {
					out.WriteString("\n>\n")
				}
			case slices.Contains(lineBreaks, t.DataAtom):
				breakLine(&out)
			case t.DataAtom == atom.Td || t.DataAtom == atom.Th:
				writeShown(&out, " ")
			}
		case html.EndTagToken:
			t := z.Token()
			switch {
			case skip == t.Data:
				if depth--; depth == 0 {
					skip = ""
				}
			case skip == "" && slices.Contains(lineBreaks, t.DataAtom):
				breakLine(&out)
			}
		}
	}
}

// setAside tells what is not shown, is quoted, or is a signature.
func setAside(t html.Token) bool {
	if t.DataAtom == atom.Blockquote || slices.Contains(unshown, t.DataAtom) {
		return true
	}
	for _, a := range t.Attr {
		switch a.Key {
		case "class":
			for class := range strings.FieldsSeq(a.Val) {
				if slices.Contains(quoteClasses, class) {
					return true
				}
			}
		case "hidden":
			return true
		case "style":
			style := strings.ToLower(strings.ReplaceAll(a.Val, " ", ""))
			if strings.Contains(style, "display:none") {
				return true
			}
		}
	}
	return false
}

// writeShown writes text as a browser would, with one blank for many.
func writeShown(out *strings.Builder, text string) {
	words := strings.Join(strings.Fields(text), " ")
	blank := func(s string) bool { return strings.TrimLeft(s, " \t\r\n\u00a0") != s }
	begun := out.Len() > 0 && !strings.HasSuffix(out.String(), "\n") && !strings.HasSuffix(out.String(), " ")
	switch {
	case words == "" && (text == "" || !begun):
		return
	case words == "":
		out.WriteString(" ")
		return
	case begun && blank(text):
		out.WriteString(" ")
	}
	out.WriteString(words)
	if last := text[len(text)-1]; last == ' ' || last == '\n' || last == '\t' || last == '\r' {
		out.WriteString(" ")
	}
}

// breakLine begins a line if one is not just begun.
func breakLine(out *strings.Builder) {
	if out.Len() > 0 && !strings.HasSuffix(out.String(), "\n") {
		out.WriteString("\n")
	}
}
