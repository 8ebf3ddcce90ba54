package config

import (
	"reflect"
	"strings"
	"testing"
	"time"

	"stepgate/rules"
)

func day(month time.Month, day int) rules.Date { return rules.NewDate(2026, month, day) }

// TestProgramParts: every part of a program that is written comes out.
func TestProgramParts(t *testing.T) {
	p := mustLoad(t, rich()).Programs["steady"]
	raise, calf := p.Exercises["raise"], p.Exercises["calf"]
	if raise.Why["en"] != "Makes the calf strong." || raise.Forms != nil ||
		!reflect.DeepEqual(calf.Forms, map[string]rules.Text{"toes-in": {"en": "Turn the toes in, then lean."}, "toes-out": {"en": "Turn the toes out."}}) {
		t.Errorf("exercises: %+v, %+v", raise, calf)
	}
	first, second := p.Blocks[0].Doses, p.Blocks[1].Doses
	if d := first[0]; d.Rest != 2*time.Minute || d.RM != 12 || d.Load != nil || d.Tempo != (rules.Tempo{Up: 3, Hold: 2, Down: 3}) {
		t.Errorf("first dose: %+v", d)
	}
	if first[1].Form != "toes-in" || first[2].Form != "toes-out" || second[0].Load["en"] != "a light band" || second[0].RM != 0 {
		t.Errorf("doses: %+v, %+v", first, second)
	}
	if !p.Wear.GoesOn || p.FirstStep != (rules.FirstStep{Every: 14, Rise: 3}) || !reflect.DeepEqual(p.Reviews, []int{3, 6}) {
		t.Errorf("wear %+v, first step %+v, reviews %v", p.Wear, p.FirstStep, p.Reviews)
	}
	if m := p.After; m.Months != 6 || m.PerWeek != 2 || len(m.Doses) != 2 || m.Doses[0].Load["en"] != "body weight" || m.Doses[1].Sessions != 2 {
		t.Errorf("maintenance: %+v", m)
	}
	for key, line := range map[string]int{"first step": 31, "review before week": 32, "maintenance": 33, "wear": 28} {
		if got := p.Where[key]; got.File != steadyFile || got.Line != line {
			t.Errorf("%s stands at %v, want line %d", key, got, line)
		}
	}
}

// TestDefaults: what a program leaves out.
func TestDefaults(t *testing.T) {
	p := mustLoad(t, base()).Programs["steady"]
	d := p.Blocks[0].Doses[0]
	if p.FirstStep != rules.DefaultFirstStep() || p.After != nil || p.Reviews != nil || p.Wear.GoesOn ||
		d.Form != "" || d.Rest != 0 || d.RM != 0 || d.Load != nil || d.Tempo != (rules.Tempo{}) {
		t.Errorf("program: %+v, dose %+v", p, d)
	}
	if _, there := p.Where["first step"]; there {
		t.Error("a default has a place in the file")
	}
	e := mustLoad(t, base()).Enrollments.At(0)
	if e.FromDay != 0 || e.Cautions != (rules.Cautions{}) || e.Usual != nil || e.UsualStep != nil || e.Lines != nil || e.Tailoring != nil ||
		e.Devices != nil || e.Proxy != nil || e.Visits != nil || e.UsualWords != nil {
		t.Errorf("enrollment: %+v", e)
	}
}

// TestWays: one thing written in different ways.
func TestWays(t *testing.T) {
	const every = "{every: 14 days, rise: 3}"
	for text, want := range map[string]rules.FirstStep{
		"weekly": {Every: 7, Rise: 2}, "off": {}, `"off"`: {}, "{every: 2 weeks}": {Every: 14, Rise: 2}, "{rise: 4}": {Every: 7, Rise: 4}, every: {Every: 14, Rise: 3},
	} {
		c, problems := loadEdited(t, rich(), steadyFile, "first step: "+every, "first step: "+text)
		if c == nil || c.Programs["steady"].FirstStep != want {
			t.Errorf("first step: %s: %v", text, problems)
		}
	}
	for _, text := range []string{"3", "[3]", "\n  - 3"} {
		c, problems := loadEdited(t, rich(), steadyFile, "week: [3, 6]", "week: "+text)
		if c == nil || !reflect.DeepEqual(c.Programs["steady"].Reviews, []int{3}) {
			t.Errorf("review before week: %s: %v", text, problems)
		}
	}
	for _, text := range []string{"12RM", "12 RM", "12rm", `"12RM"`} {
		c, problems := loadEdited(t, rich(), steadyFile, "load: 12RM", "load: "+text)
		if c == nil || c.Programs["steady"].Blocks[0].Doses[0].RM != 12 {
			t.Errorf("load: %s: %v", text, problems)
		}
	}
	for text, want := range map[string]bool{"waits": false, "goes on": true} {
		c, problems := loadEdited(t, rich(), steadyFile, "during hold: goes on", "during hold: "+text)
		if c == nil || c.Programs["steady"].Wear.GoesOn != want {
			t.Errorf("during hold: %s: %v", text, problems)
		}
	}
}

// TestPersonValues: what an enrollment says of the person comes out, and the
// lines it leaves out are those of the program.
func TestPersonValues(t *testing.T) {
	e := mustLoad(t, rich()).Enrollments.At(0)
	const by = "J. Marlowe DPM"
	oct5 := day(time.October, 5)
	if e.FromDay != 15 || *e.Usual != 2 || *e.UsualStep != 4 || *e.Proxy != (Proxy{"Grace", "mother"}) || e.Name != "Ada" ||
		e.Cautions != (rules.Cautions{ReducedSensation: true, FragileSkin: true, Balance: true, Growing: true}) {
		t.Errorf("enrollment: %+v", e)
	}
	if *e.Lines != (rules.Lines{Steady: 2, Hold: 4, StepBack: 6, Pause: 9, ClearDays: 5}) || e.LinesAt.Line != 13 || e.LinesBy != by || e.LinesOn != oct5 {
		t.Errorf("lines: %+v at %v, %s %s", e.Lines, e.LinesAt, e.LinesBy, e.LinesOn)
	}
	if !e.Consent.Export || !e.Consent.Texts {
		t.Errorf("consent: %+v", e.Consent)
	}
	at := func(line int) rules.Pos { return rules.Pos{File: enrollmentsFile, Line: line, Column: 9} }
	tailoring := []rules.Tailor{
		{Exercise: "raise", Sets: 2, By: by, On: oct5, At: at(15)},
		{Exercise: "calf", LeaveOut: true, By: by, On: oct5, At: at(16)},
	}
	devices := []rules.Device{
		{Kind: rules.DeviceDispensed, On: oct5, At: at(18)}, {Kind: rules.DeviceAdjusted, On: day(10, 20), At: at(19)},
		{Kind: rules.DeviceOut, On: day(10, 22), At: at(20)}, {Kind: rules.DeviceBack, On: day(10, 29), At: at(21)},
		{Kind: rules.DeviceRemade, On: day(11, 20), At: at(22)}, {Kind: rules.DeviceSecond, On: day(12, 1), At: at(23)},
	}
	if !reflect.DeepEqual(e.Tailoring, tailoring) || !reflect.DeepEqual(e.Devices, devices) {
		t.Errorf("tailoring: %+v\ndevices: %+v", e.Tailoring, e.Devices)
	}
	if !reflect.DeepEqual(e.UsualWords, []string{"fell", "numb"}) || !reflect.DeepEqual(e.Visits, []rules.Date{day(11, 20), rules.NewDate(2027, 1, 15)}) {
		t.Errorf("words %v, visits %v", e.UsualWords, e.Visits)
	}
	three := 3
	want := []rules.Entry{
		{Kind: rules.EntryRelease, On: day(10, 14), By: by, AsBefore: true, At: at(32)},
		{Kind: rules.EntryWear, On: day(10, 16), By: by, At: at(35)},
		{Kind: rules.EntryReview, On: day(11, 20), By: by, At: at(36)},
		{Kind: rules.EntryStrike, Report: day(10, 14), On: day(10, 15), By: by, Why: "meant 3", At: at(37)},
		{Kind: rules.EntryReplace, Report: day(10, 12), Score: &three, On: day(10, 15), By: by, Why: "typed 33", At: at(38)},
	}
	got := append([]rules.Entry{e.Entries[1]}, e.Entries[4:]...)
	if !reflect.DeepEqual(got, want) {
		t.Errorf("entries:\n%+v\nwant:\n%+v", got, want)
	}
}

// TestFormOnOneSide: a form may be for one side; the tests of what contradicts
// have two of them.
func TestFormOnOneSide(t *testing.T) {
	files := rich()
	files[steadyFile] = edit(t, richProgram, "    - {do: calf, form: toes-out, reps: 3, hold: 20s, on: [mon, thu]}\n", "")
	files[enrollmentsFile] = edit(t, richEnrollments, "{leave out: calf,", "{exercise: calf, form: toes-out, side: left, sets: 1,")
	files[steadyFile] = edit(t, files[steadyFile], "{do: calf, reps: 3, sessions: 2}", "{do: calf, sets: 2, reps: 3}")
	got := mustLoad(t, files).Enrollments.At(0).Tailoring
	if len(got) != 2 || got[1].Form != "toes-out" || got[1].Side != "left" || got[1].Sets != 1 {
		t.Errorf("tailoring: %+v", got)
	}

	second := "      - {exercise: calf, form: toes-in, side: right, by: J. Marlowe DPM, on: 2026-10-05}\n"
	files[enrollmentsFile] = edit(t, files[enrollmentsFile], "    devices:\n", second+"    devices:\n")
	want := `enrollments.yaml:17:9: this gives a form to "calf", as does the one at enrollments.yaml:16:9; keep one of them`
	if c, problems := LoadFiles("/clinic", filesOf(files), env); c != nil || problems.Error() != want {
		t.Errorf("two forms: got %v, want %s", problems, want)
	}
}

// TestDevicesOut: new ones end being out, whether their coming back is written
// or not.
func TestDevicesOut(t *testing.T) {
	for text, want := range map[string]string{
		"{out: 2026-10-20}, {remade: 2026-10-30}, {out: 2026-11-20}":                        "",
		"{out: 2026-10-20}, {remade: 2026-10-30}, {back: 2026-10-30}, {out: 2026-11-20}":    "",
		"{out: 2026-10-20}, {back: 2026-10-30}, {second pair: 2026-10-30}":                  "",
		"{out: 2026-10-20}, {second pair: 2026-10-30}, {out: 2026-11-20}, {out: 2026-11-2}": "is no date",
		"{out: 2026-10-20}, {adjusted: 2026-10-30}, {out: 2026-11-20}":                      "are out already",
		"{out: 2026-10-20}, {back: 2026-10-30}, {back: 2026-11-20}":                         "were not out",
		"{remade: 2026-10-20}, {back: 2026-10-30}":                                          "were not out",
	} {
		_, problems := loadEdited(t, base(), enrollmentsFile, "    affected: left\n", "    devices: ["+text+"]\n")
		if errors := problems.Error(); len(problems) > 1 || !strings.Contains(errors, want) || (want == "") != (errors == "") {
			t.Errorf("%s: %s; want %q", text, errors, want)
		}
	}
}

// TestRichRoundTrip: the files of a clinic with everything in them make the
// same clinic again.
func TestRichRoundTrip(t *testing.T) {
	first := mustLoad(t, rich())
	again, problems := LoadFiles("/clinic", first.Files, env)
	if len(problems) > 0 || !reflect.DeepEqual(first, again) {
		t.Errorf("the clinic read again differs (%v)", problems)
	}
}
