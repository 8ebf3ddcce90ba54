package config

import (
	"bytes"
	"fmt"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"stepgate/rules"
)

// handwriting is a way of writing a file of enrollments.
type handwriting struct {
	t       *rapid.T
	indent  string // of the enrollments' dashes
	gap     string // behind every dash
	list    string // of lists below their key
	comment int    // one line in so many has a comment
}

func (h *handwriting) chance(one int) bool { return rapid.IntRange(1, one).Draw(h.t, "chance") == 1 }

func (h *handwriting) one(of ...string) string { return rapid.SampledFrom(of).Draw(h.t, "one") }

// tail is what may stand behind a value on its line.
func (h *handwriting) tail() string {
	if h.chance(h.comment) {
		return h.one(" # c", "  # {a: b}]", "\t# é - x: y", " ")
	}
	return ""
}

// between are lines that may stand between others.
func (h *handwriting) between(indent string) string {
	if !h.chance(h.comment) {
		return ""
	}
	return h.one("\n", indent+"# note\n", "# at the edge\n", indent+"  # - {hold: 2026-10-20, by: J}\n", "\n"+indent+"# a\n\n", "   \n")
}

// whyText is a reason as a clinician may write it, as YAML.
func (h *handwriting) whyText() string {
	return h.one("swollen", `"a } b, c"`, "'it''s ] sore'", `"# no comment"`, "he said no", "\"two\n            lines\"", "é ü")
}

func (h *handwriting) entry() string {
	return h.one("{hold: 2026-10-DAY, by: J}", "{hold: 2026-10-DAY, by: J, why: WHY}", "{ release: 2026-10-DAY,\n         by: J\n         }",
		`{"confirm contact": "2026-10-DAY", by: 'J',}`)
}

// blockEntry is an entry of several lines; pad stands before all but the first.
func (h *handwriting) blockEntry(pad string) string {
	return "hold: 2026-10-DAY" + h.tail() + "\n" + pad + "by: J\n" + h.one("", pad+"why: WHY\n", pad+"why: |\n"+pad+"  # it hurt\n\n",
		pad+"why: >-\n"+pad+"  it\n"+pad+"  # hurt\n", pad+"why: it\n"+pad+"  hurt, {a}\n")
}

// entries are the lines of the key entries, or nothing; key is its indent.
func (h *handwriting) entries(key string) string {
	n := rapid.IntRange(1, 3).Draw(h.t, "entries")
	fill := func(text string, day int) string {
		return strings.NewReplacer("DAY", fmt.Sprintf("%02d", day), "WHY", h.whyText()).Replace(text)
	}
	name := key + h.one("entries:", "\"entries\":", "entries :")
	switch h.one("none", "empty", "null", "block", "flow") {
	case "none":
		return ""
	case "empty":
		return name + h.one("", " []", " [ ]", " [ # c\n"+key+"  ]") + h.tail() + "\n" + h.between(key+h.list)
	case "null":
		return name + h.one(" null", " ~", " Null") + h.tail() + "\n"
	case "flow":
		var items []string
		for i := range n {
			items = append(items, fill(h.entry(), i+1))
		}
		if h.chance(2) {
			sep := ",\n" + key + "  "
			return name + " [\n" + key + "  " + strings.Join(items, sep) + h.one("", ",") + h.tail() + "\n" + key + "  ]" + h.tail() + "\n"
		}
		return name + " [" + strings.Join(items, h.one(", ", ",", " , ")) + h.one("", ",", " ") + "]" + h.tail() + "\n"
	}
	out := name + h.tail() + "\n"
	for i := range n {
		dash := key + h.list + "-" + h.gap
		pad := strings.Repeat(" ", len(dash))
		if h.chance(2) {
			out += dash + fill(h.entry(), i+1) + h.tail() + "\n"
		} else {
			out += dash + fill(h.blockEntry(pad), i+1)
		}
		out += h.between(key + h.list)
	}
	return out
}

// patient writes an enrollment as lines.
func (h *handwriting) patient(id string) string {
	dash := h.indent + "-" + h.gap
	key := strings.Repeat(" ", len(dash))
	facts := []string{"name: Ada", "program: " + h.one("steady", "'steady'"), "dispensed: 2026-09-01", "time: " + h.one("09:00", `"09:00"`),
		h.one("consent: {on: 2026-09-01, how: in writing, by: J}", "consent:\n"+key+"  on: 2026-09-01\n"+key+"  how: >\n"+key+"    in\n"+key+"    writing\n"+key+"  by: J"),
		"spool: " + id, "id: " + h.one(id, `"`+id+`"`, "'"+id+"'")}
	facts = rapid.Permutation(facts).Draw(h.t, "order")
	if h.chance(4) { // in braces
		sep := h.one(", ", ",\n"+key+"  ")
		for i, f := range facts {
			if strings.HasPrefix(f, "consent") {
				facts[i] = "consent: {on: 2026-09-01, how: in writing, by: J}"
			}
		}
		if e := h.one("", "entries: [{hold: 2026-10-01, by: J}]", "entries: ", "entries: []", "entries: null"); e != "" {
			facts = append(facts, e)
			facts = rapid.Permutation(facts).Draw(h.t, "order again")
		}
		return dash + "{" + strings.Join(facts, sep) + h.one("", ",", " ", " # c\n"+key) + "}" + h.tail() + "\n"
	}
	at := rapid.IntRange(1, len(facts)).Draw(h.t, "place of entries")
	out := ""
	for i, f := range facts {
		if i == at {
			out += h.entries(key)
		}
		if i == 0 {
			out += dash
		} else {
			out += h.between(key) + key
		}
		out += f + h.tail() + "\n"
	}
	if at == len(facts) {
		out += h.entries(key)
	}
	return out + h.between(h.indent)
}

// written is a whole file of n enrollments, p-1 and so on.
func written(t *rapid.T, n int) string {
	h := &handwriting{t: t, comment: rapid.IntRange(2, 8).Draw(t, "comments")}
	h.indent, h.gap, h.list = h.one("", "  ", "    "), h.one(" ", "  ", "   "), h.one("", "  ", "    ")
	out := h.one("", "# patients\n", "---\n", "\ufeff") + "enrollments:" + h.tail() + "\n" + h.between("")
	for i := range n {
		out += h.patient(fmt.Sprintf("p-%d", i+1))
	}
	out += h.one("", "", "# end\n", "...\n")
	if h.chance(3) {
		out = strings.TrimRight(out, "\n")
	}
	return strings.ReplaceAll(out, "\n", h.one("\n", "\n", "\r\n", "\r"))
}

// someEntry is an entry that any enrollment may get.
func someEntry(t *rapid.T) rules.Entry {
	text := rapid.OneOf(
		rapid.SampledFrom([]string{"seen, swelling", "null", "a: b", "# c", "~", "it's [x]", `say "a"`, "no", "12", "- x", "ok?", "x}", "é — ü", "a#b", "*a", "&b", "%c", "@d", "`e`", "{", "|", "a  b", "=", "<<", "true", "2026-10-01", "a:", ":a", "\U0001F44D", "a\u2028b", "\ufeffa", "..."}),
		rapid.StringOfN(rapid.RuneFrom([]rune(`ab é,:#'"[]{}&*!|>%@\-?~0.`)), 1, 12, -1),
	)
	plain := func(name string) string { return strings.TrimSpace(text.Draw(t, name)) }
	n := rules.Entry{On: day(12, rapid.IntRange(1, 30).Draw(t, "day")), By: "J" + plain("by")}
	n.Kind = rapid.SampledFrom([]rules.EntryKind{rules.EntryHold, rules.EntryRelease, rules.EntryCap, rules.EntryDischarge, rules.EntryReplace, rules.EntryStrike, rules.EntryReport}).Draw(t, "kind")
	n.Why = plain("why")
	switch n.Kind {
	case rules.EntryCap:
		n.Step = rapid.IntRange(0, 2).Draw(t, "step")
	case rules.EntryRelease:
		n.AsBefore = rapid.Bool().Draw(t, "as before")
		if !n.AsBefore && rapid.Bool().Draw(t, "of a hold") {
			n.OfHold = n.On - 1
		}
	case rules.EntryReport:
		n.Said = "D" + plain("said")
	case rules.EntryReplace:
		score := rapid.IntRange(0, 10).Draw(t, "score")
		n.Score, n.Report = &score, day(11, 2)
		n.Why += "x"
	case rules.EntryStrike:
		n.Report = day(11, 2)
		n.Why += "x"
	}
	return n
}

// bareEnrollments are a clinic's enrollments without their places.
func bareEnrollments(c *Clinic) []Enrollment {
	var out []Enrollment
	for e := range c.Enrollments.All() {
		x := *e
		x.At, x.LinesAt = rules.Pos{}, rules.Pos{}
		x.Entries = nil
		for _, n := range e.Entries {
			n.At = rules.Pos{}
			x.Entries = append(x.Entries, n)
		}
		out = append(out, x)
	}
	return out
}

// keeps tells whether all the bytes of one text stand in another, in order.
func keeps(before, after []byte) bool {
	for _, b := range before {
		i := bytes.IndexByte(after, b)
		if i < 0 {
			return false
		}
		after = after[i+1:]
	}
	return true
}

// TestAddEntriesRandom: whatever way a file is written, an entry is added and
// nothing else reads otherwise; no byte is lost but a null that a list takes
// the place of.
func TestAddEntriesRandom(t *testing.T) {
	inserted := 0
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 3).Draw(t, "patients")
		files := base()
		files[enrollmentsFile] = written(t, n)
		before, problems := LoadFiles("/clinic", filesOf(files), nil)
		if before == nil {
			t.Fatalf("the file does not load: %v\n%q", problems, files[enrollmentsFile])
		}
		which := rapid.IntRange(0, n-1).Draw(t, "which")
		entries := rapid.SliceOfN(rapid.Custom(someEntry), 1, 2).Draw(t, "new")
		if len(entries) == 2 && (entries[0].Kind == rules.EntryDischarge && entries[1].Kind == entries[0].Kind || entries[0].ID() == entries[1].ID()) {
			entries = entries[:1]
		}
		e, err := before.addEntries(before.Enrollments.At(which).ID, entries)
		if err != nil {
			t.Fatalf("%v\n%q", err, files[enrollmentsFile])
		}
		files[enrollmentsFile] = string(e.After)
		after, problems := LoadFiles("/clinic", filesOf(files), nil)
		if after == nil {
			t.Fatalf("the edit does not load: %v\n%q", problems, e.After)
		}
		want, got := bareEnrollments(before), bareEnrollments(after)
		want[which].Entries = append(want[which].Entries, entries...)
		if !reflect.DeepEqual(got, want) {
			t.Fatalf("%q\n%q reads as\n%+v\nwant\n%+v", e.Before, e.After, got, want)
		}
		if line := after.Enrollments.At(which).Entries[len(want[which].Entries)-len(entries)].At.Line; line != e.Line {
			t.Fatalf("the entry is on line %d, the edit says %d", line, e.Line)
		}
		start := len(commonStart(e.Before, e.After))
		left := e.Before[start:]
		for len(left) > 0 && !bytes.HasSuffix(e.After[start:], left) {
			left = left[1:]
		}
		switch lost := string(e.Before[start : len(e.Before)-len(left)]); {
		case lost == "":
			inserted++
		case lost == "null" || lost == "Null" || lost == "~":
		case !keeps(e.Before, e.After):
			t.Fatalf("bytes are lost:\n%q\n%q", e.Before, e.After)
		}
	})
	if inserted == 0 {
		t.Error("no edit was one insertion")
	}
}

func commonStart(a, b []byte) []byte {
	i := 0
	for i < len(a) && i < len(b) && a[i] == b[i] {
		i++
	}
	return a[:i]
}
