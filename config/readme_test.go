package config

import (
	"fmt"
	"maps"
	"os"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"go.yaml.in/yaml/v3"

	"stepgate/rules"
)

// reference is the written reference of the files.
func reference(t *testing.T) string {
	t.Helper()
	b, err := os.ReadFile("../rules/README.md")
	must(t, err)
	return string(b)
}

var yamlBlock = regexp.MustCompile("(?ms)^```yaml (\\S+)\n(.*?)^```$")

// over lays the keys of one mapping over those of another.
func over(t *testing.T, under *yaml.Node, text string) {
	t.Helper()
	var doc yaml.Node
	must(t, yaml.Unmarshal([]byte(text), &doc))
	top := doc.Content[0].Content
	for i := 0; i < len(top); i += 2 {
		at := slices.IndexFunc(under.Content, func(n *yaml.Node) bool { return n.Value == top[i].Value })
		if at < 0 {
			under.Content = append(under.Content, top[i], top[i+1])
			continue
		}
		under.Content[at+1] = top[i+1]
	}
}

// withPart is a file with the keys of a part laid over it.
func withPart(t *testing.T, file, part string, find func(root *yaml.Node) *yaml.Node) string {
	t.Helper()
	var doc yaml.Node
	must(t, yaml.Unmarshal([]byte(file), &doc))
	over(t, find(doc.Content[0]), part)
	out, err := yaml.Marshal(&doc)
	must(t, err)
	return string(out)
}

// TestReferenceExamples loads every example of the reference: the whole files
// as they stand, the parts laid over those.
func TestReferenceExamples(t *testing.T) {
	blocks := yamlBlock.FindAllStringSubmatch(reference(t), -1)
	files := base()
	for _, b := range blocks {
		if strings.HasSuffix(b[1], ".yaml") {
			files[b[1]] = b[2]
		}
	}
	good := mustLoad(t, files)
	if len(good.Programs) != 1 || good.Enrollments.Len() != 1 {
		t.Fatalf("the whole examples are %d programs and %d enrollments", len(good.Programs), good.Enrollments.Len())
	}
	parts := 0
	for _, b := range blocks {
		changed := maps.Clone(files)
		switch b[1] {
		case "program":
			changed[steadyFile] = withPart(t, files[steadyFile], b[2], func(root *yaml.Node) *yaml.Node { return root })
		case "enrollment":
			changed[enrollmentsFile] = withPart(t, files[enrollmentsFile], b[2], func(root *yaml.Node) *yaml.Node { return root.Content[1].Content[0] })
		case steadyFile, enrollmentsFile:
			continue
		default:
			t.Errorf("an example is marked %q", b[1])
		}
		parts++
		if c, problems := LoadFiles("/clinic", filesOf(changed), env); c == nil || slices.ContainsFunc(problems, notUnused) {
			t.Errorf("this example does not load:\n%s\n%v", b[2], problems)
		}
	}
	if parts < 10 {
		t.Errorf("the reference has %d parts as examples, want 10 or more", parts)
	}
}

// notUnused tells a problem from the warning that a part leaves an exercise of
// the whole file unused.
func notUnused(p Problem) bool { return !strings.Contains(p.What, "is never used") }

// sections are the headings of the reference and the shapes they describe.
var sections = map[string]any{
	"## The program": programShape{}, "### approved": approvedShape{}, "## exercises": exerciseShape{}, "## weeks: a dose": doseShape{},
	"## wear": wearShape{}, "## pain": painShape{}, "## advance": advanceShape{}, "## first step": firstStepShape{}, "## maintenance": afterShape{},
	"## The enrollment": enrollmentShape{}, "### proxy": proxyShape{}, "### usual": usualShape{}, "### pain of the patient's own": ownPainShape{},
	"### tailor": tailorShape{}, "### devices": deviceShape{}, "### consent": consentShape{}, "### entries": entryShape{},
}

// rows are the tables of the reference: heading, key, cells.
func rows(t *testing.T) map[string]map[string][]string {
	t.Helper()
	out := map[string]map[string][]string{}
	heading := ""
	for line := range strings.Lines(reference(t)) {
		line = strings.TrimSpace(line)
		if strings.HasPrefix(line, "#") {
			heading = line
		}
		if !strings.HasPrefix(line, "| `") {
			continue
		}
		cells := strings.Split(strings.Trim(line, "|"), "|")
		for i := range cells {
			cells[i] = strings.TrimSpace(cells[i])
		}
		if len(cells) != 5 {
			t.Errorf("%s: a row has %d cells, want 5: %s", heading, len(cells), line)
			continue
		}
		if out[heading] == nil {
			out[heading] = map[string][]string{}
		}
		out[heading][strings.Trim(cells[0], "`")] = cells
	}
	return out
}

// TestReferenceKeys: the reference has a row for every key, and for no other;
// a key that is always asked for is marked so.
func TestReferenceKeys(t *testing.T) {
	tables := rows(t)
	var w walker
	described := map[reflect.Type]bool{reflect.TypeFor[enrollmentsShape](): true, reflect.TypeFor[weekShape](): true} // one key; a list
	for heading, shape := range sections {
		of := reflect.TypeOf(shape)
		described[of] = true
		got, want := slices.Sorted(maps.Keys(tables[heading])), slices.Sorted(maps.Keys(w.fields(of)))
		if !slices.Equal(got, want) {
			t.Errorf("%s: rows for %v, keys %v", heading, got, want)
		}
		for i := range of.NumField() {
			f := of.Field(i)
			if row := tables[heading][f.Tag.Get("koanf")]; row != nil && (row[3] == "need") != (f.Tag.Get("need") != "") {
				if strings.HasPrefix(row[3], "need,") {
					continue // only in some cases
				}
				t.Errorf("%s: the default of %s is %q", heading, row[0], row[3])
			}
		}
	}
	for _, root := range []any{programShape{}, enrollmentsShape{}} {
		eachField(reflect.TypeOf(root), func(of reflect.Type, _ reflect.StructField) {
			if !described[of] {
				t.Errorf("no section describes %v", of)
			}
		})
	}
}

// TestReferenceDefaults: the defaults in the reference are those that hold.
func TestReferenceDefaults(t *testing.T) {
	l, a, f := rules.DefaultLines(), rules.DefaultAdvance(), rules.DefaultFirstStep()
	tables := rows(t)
	for _, c := range []struct{ heading, key, want string }{
		{"## pain", "steady", fmt.Sprint(l.Steady)}, {"## pain", "hold", fmt.Sprint(l.Hold)}, {"## pain", "step back", fmt.Sprint(l.StepBack)},
		{"## pain", "pause", fmt.Sprint(l.Pause)}, {"## pain", "clear days", fmt.Sprint(l.ClearDays)},
		{"## advance", "done", fmt.Sprintf("%d%%", a.Done)}, {"## advance", "of last", plural(a.Last, "day")}, {"## advance", "scores", fmt.Sprint(a.Scores)},
		{"## first step", "every", plural(f.Every, "day")}, {"## first step", "rise", fmt.Sprint(f.Rise)},
		{"## wear", "during hold", duringHold[0]},
	} {
		if row := tables[c.heading][c.key]; row == nil || row[3] != c.want {
			t.Errorf("%s, %s: %v, want the default %s", c.heading, c.key, row, c.want)
		}
	}
}

// TestReferenceRanges: the ranges in the reference are those of the check.
func TestReferenceRanges(t *testing.T) {
	tables := rows(t)
	for _, c := range []struct{ heading, key, want string }{
		{"## The program", "length", fmt.Sprintf("1 to %d weeks", maxWeeks)},
		{"## weeks: a dose", "sets", fmt.Sprintf("1 to %d", maxSets)},
		{"## weeks: a dose", "reps", fmt.Sprintf("1 to %d", maxReps)},
		{"## weeks: a dose", "sessions", fmt.Sprintf("1 to %d", maxSessions)},
		{"## weeks: a dose", "hold", "1 second to " + spoken(maxHold)},
		{"## weeks: a dose", "rest", "1 second to " + spoken(maxRest)},
		{"## weeks: a dose", "load", fmt.Sprintf("1RM to %dRM; words of at most %d letters", maxRM, maxLoad)},
		{"## weeks: a dose", "tempo", fmt.Sprintf("0 to %d each", maxTempo)},
		{"## advance", "of last", fmt.Sprintf("1 to %d days", rules.MaxWindow)},
		{"## maintenance", "for", fmt.Sprintf("1 to %d months", maxMonths)},
		{"## exercises", "kind", strings.Join(kinds, ", ")},
		{"## exercises", "side", strings.Join(sides, ", ")},
		{"## wear", "during hold", strings.Join(duringHold, ", ")},
		{"## The enrollment", "affected", strings.Join(affectedWords, ", ")},
		{"## The enrollment", "cautions", strings.Join(cautionWords, ", ")},
	} {
		if row := tables[c.heading][c.key]; row == nil || row[2] != c.want {
			t.Errorf("%s, %s: %v, want the range %s", c.heading, c.key, row, c.want)
		}
	}
}
