package export

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/rules"
)

// said is a resource without what differs from journal to journal.
func (r resource) said(keys ...string) string {
	var parts []string
	for _, k := range keys {
		v, err := json.Marshal(r.m[k])
		if err != nil {
			panic(err) // it was read from JSON
		}
		parts = append(parts, string(v))
	}
	return strings.Join(parts, " ")
}

func wantSaid(t *testing.T, what string, got []resource, keys []string, want ...string) {
	t.Helper()
	var lines []string
	for _, r := range got {
		lines = append(lines, r.said(keys...))
	}
	if !slices.Equal(lines, want) {
		t.Errorf("%s: got\n%s\nwant\n%s", what, strings.Join(lines, "\n"), strings.Join(want, "\n"))
	}
}

// Only those whose consent covers it leave, and no word of a message without a
// consent to that.
func TestConsent(t *testing.T) {
	b := aWeek(t)
	sum, err := Summarize(b.source(), Options{Form: FHIR, Texts: true})
	want := "{2 [{without the words of the messages: the consent does not cover texts 1 [ben-2]} " +
		"{left out, whose consent does not cover export 1 [cy-3]} {left out, gone from the files: what they agreed to is not on file 1 [gone-4]}]}"
	if err != nil || fmt.Sprint(sum) != want {
		t.Errorf("summary: %v, %v\nwant %s", sum, err, want)
	}
	ids := func(list []resource) (ids []string) {
		for _, p := range of(list, "Patient") {
			ids = append(ids, fmt.Sprint(p.at("identifier", 0, "value")))
		}
		return ids
	}
	plain, full := b.write(Options{Form: FHIR}), b.write(Options{Form: FHIR, Texts: true})
	if got := ids(readBundle(t, plain)); !slices.Equal(got, []string{"ada-1", "ben-2"}) {
		t.Errorf("patients: %q", got)
	}
	readBundle(t, full)
	for _, word := range []string{"Adalind", "Benedikt", "Gracelyn", "Cyprian", "-box", "Okafor", "Marlowe"} {
		if strings.Contains(plain, word) || strings.Contains(full, word) {
			t.Errorf("the bundle holds %q", word)
		}
	}
	for word, times := range map[string]int{"heel raises today": 3, `=4, \"some\"`: 1, "P4": 0, "First steps 5 noted": 1} {
		if strings.Contains(plain, word) || strings.Count(full, word) != times {
			t.Errorf("%q stands in the bundle %d times, want %d with texts and none without", word, strings.Count(full, word), times)
		}
	}
	// A consent that is taken back in the folder counts before the service reads it.
	s := b.source()
	s.Folder = clinicOf(t, strings.ReplaceAll(enrollmentsFile, ", covers: [export, texts]", ""))
	if sum, err := Summarize(s, Options{Form: FHIR, ID: "ada-1"}); err != nil || sum.Patients != 0 || sum.Left[0].Why != notCovered {
		t.Errorf("a consent taken back: %+v, %v", sum, err)
	}
	s.Folder = clinicOf(t, "enrollments: []\n")
	if sum, err := Summarize(s, Options{Form: FHIR, ID: "ada-1"}); err != nil || sum.Patients != 0 || sum.Left[0].Why != goneFrom {
		t.Errorf("an enrollment taken out: %+v, %v", sum, err)
	}
	if got := b.write(Options{Form: FHIR, ID: "cy-3"}); len(readBundle(t, got)) != 0 {
		t.Errorf("a patient left out: %s", got)
	}
}

// What each resource says of the made-up week, by hand.
func TestRecord(t *testing.T) {
	b := aWeek(t)
	ada, ben := readBundle(t, b.write(Options{Form: FHIR, ID: "ada-1"})), readBundle(t, b.write(Options{Form: FHIR, ID: "ben-2"}))
	wantSaid(t, "scores of ada", of(ada, "Observation"), []string{"effectiveDateTime", "status", "valueQuantity"},
		`"2026-10-05" "final" {"code":"{score}","system":"http://unitsofmeasure.org","unit":"{score}","value":5}`,
		`"2026-10-06" "corrected" {"code":"{score}","system":"http://unitsofmeasure.org","unit":"{score}","value":1}`,
		`"2026-10-07" "entered-in-error" null`)
	for i, want := range []string{"first-step-pain", "worst-pain", "worst-pain"} {
		if r := of(ada, "Observation")[i]; !r.is(want, "code", "coding", 1, "code") || !r.is("urn:uuid:8d0a7f0e-6f0b-4b57-9c39-5b7a5f1e2c61", "code", "coding", 1, "system") {
			t.Errorf("score %d: %v", i, r.m["code"])
		}
	}
	wantSaid(t, "messages of ada", of(ada, "Communication"), []string{"topic", "status", "statusReason", "sent", "received"},
		`{"text":"daily"} "completed" null "2026-10-05T13:02:00Z" null`,
		`{"text":"reply"} "completed" null null "2026-10-05T13:30:00Z"`,
		`{"text":"answer"} "preparation" null null null`,
		`{"text":"daily"} "not-done" {"text":"rejected"} null null`,
		`{"text":"reply"} "completed" null null "2026-10-06T13:30:00Z"`,
		`{"text":"daily"} "unknown" {"text":"may or may not have been taken by the carrier"} null null`,
		`{"text":"reply"} "completed" null null "2026-10-07T13:30:00Z"`)
	coms := of(ada, "Communication")
	if coms[2].at("inResponseTo", 0, "reference") != coms[1].URL {
		t.Errorf("the answer is one to %v", coms[2].at("inResponseTo"))
	}
	wantSaid(t, "messages of ben", of(ben, "Communication"), []string{"topic", "status", "statusReason"},
		`{"text":"daily"} "completed" null`, `{"text":"daily"} "stopped" {"text":"undelivered"}`, `{"text":"daily"} "completed" null`,
		`{"text":"reply"} "completed" null`, `{"text":"daily"} "in-progress" null`)
	if r := of(ben, "Communication")[0]; !r.is("SMSWRIT", "medium", 0, "coding", 0, "code") || !r.is("RelatedPerson", "recipient", 0, "type") {
		t.Errorf("a text to a carer: %v", r.m)
	}
	wantSaid(t, "carer", of(ben, "RelatedPerson"), []string{"relationship"}, `[{"text":"mother"}]`)
	wantSaid(t, "orthoses of ben", of(ben, "DeviceUseStatement"), []string{"status", "timingPeriod", "note"},
		`"completed" {"end":"2026-10-07","start":"2026-10-05"} [{"text":"adjusted on 2026-10-06"}]`,
		`"on-hold" {"start":"2026-10-07"} [{"text":"out on 2026-10-08"}]`)
	b.c.Enrollments = b.c.Enrollments.Changed(func(e *config.Enrollment) { e.Dispensed = oct5 + 30 })
	wantSaid(t, "orthoses to come", of(readBundle(t, b.write(Options{Form: FHIR, ID: "ada-1"})), "DeviceUseStatement"),
		[]string{"status", "timingPeriod"}, `"intended" {"start":"2026-11-04"}`)
	wantSaid(t, "plan of ben", of(ben, "CarePlan"), []string{"status", "intent", "title", "period", "note"},
		`"active" "plan" "Loading the calf" {"start":"2026-10-05"} [{"text":"Step 2 of 2, program day 15 of calendar day 4, wear day 4. State: active. Why: tick.","time":"2026-10-08"}]`)
}

// The requests are the doses as tailored: of ben's, no calf stretch and two sets at most.
func TestRequests(t *testing.T) {
	b := aWeek(t)
	request := func(id string) []resource {
		return of(readBundle(t, b.write(Options{Form: FHIR, ID: id})), "ServiceRequest")
	}
	keys := []string{"status", "intent", "code", "occurrenceTiming"}
	wantSaid(t, "ada", request("ada-1"), keys,
		`"active" "order" {"text":"Heel raise on a step"} {"code":{"text":"1 time a day, every other day"},"repeat":{"frequency":1,"period":2,"periodUnit":"d"}}`,
		`"active" "order" {"text":"Wall calf stretch"} {"code":{"text":"1 time a day, on Monday, Thursday"},"repeat":{"dayOfWeek":["mon","thu"],"frequency":1,"period":1,"periodUnit":"d"}}`,
		`"draft" "order" {"text":"Heel raise on a step"} {"code":{"text":"1 time a day, on 3 days a week"},"repeat":{"frequency":3,"period":1,"periodUnit":"wk"}}`,
		`"draft" "order" {"text":"Wall calf stretch"} {"code":{"text":"2 times a day, every day"},"repeat":{"frequency":2,"period":1,"periodUnit":"d"}}`,
		`"draft" "order" {"text":"Heel raise on a step"} {"code":{"text":"1 time a day, every day"},"repeat":{"frequency":1,"period":1,"periodUnit":"d"}}`)
	wantSaid(t, "ada's words", request("ada-1")[:2], []string{"orderDetail", "patientInstruction"},
		`[{"text":"3 sets"},{"text":"12 repetitions a set"},{"text":"1 time a day"},{"text":"side: each"},{"text":"rest 120 seconds between sets"},`+
			`{"text":"load: 12 repetition maximum"},{"text":"tempo: 3 s up, 2 s hold, 3 s down"}] "Heel raise on a step. Rise on one foot. Stop on sharp pain."`,
		`[{"text":"1 set"},{"text":"3 repetitions a set"},{"text":"hold each 20 seconds"},{"text":"1 time a day"},{"text":"side: each"},`+
			`{"text":"form: Turn the toes in, then lean."}] "Wall calf stretch. Lean in. Turn the toes in, then lean."`)
	wantSaid(t, "ben", request("ben-2"), []string{"status", "orderDetail"},
		`"completed" [{"text":"2 sets"},{"text":"12 repetitions a set"},{"text":"1 time a day"},{"text":"side: each"},{"text":"rest 120 seconds between sets"},`+
			`{"text":"load: 12 repetition maximum"},{"text":"tempo: 3 s up, 2 s hold, 3 s down"}]`,
		`"active" [{"text":"2 sets"},{"text":"10 repetitions a set"},{"text":"1 time a day"},{"text":"side: affected"},{"text":"load: a light band"}]`,
		`"draft" [{"text":"2 sets"},{"text":"10 repetitions a set"},{"text":"1 time a day"},{"text":"side: each"},{"text":"load: body weight"}]`)
}

// Dates narrow scores and messages, and leave no reference to what is left out.
func TestDates(t *testing.T) {
	list := readBundle(t, aWeek(t).write(Options{Form: FHIR, From: oct5 + 1, To: oct5 + 1}))
	wantSaid(t, "scores", of(list, "Observation"), []string{"effectiveDateTime"}, `"2026-10-06"`, `"2026-10-06"`)
	if n := len(of(list, "Communication")); n != 4 {
		t.Errorf("%d messages, want 4", n)
	}
	if n := len(of(list, "CarePlan")); n != 2 {
		t.Errorf("%d plans, want both whole", n)
	}
}

// What FHIR has no place for in a string goes; what only looks like an escape stays.
func TestPrintable(t *testing.T) {
	in, err := json.Marshal("a\x00b\x1fc\bd\fe\tf\r\ng\\u0001h\\\x02i<\"\x7f\u2028")
	if err != nil {
		t.Fatal(err)
	}
	var got string
	if err := json.Unmarshal(printable(in), &got); err != nil {
		t.Fatal(err)
	}
	if want := "a\ufffdb\ufffdc\ufffdd\ufffde\tf\r\ng\\u0001h\\\ufffdi<\"\x7f\u2028"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

// Every state has a status that holds for the plan, and none but the step the
// patient is at asks anything of them.
func TestPlanStatus(t *testing.T) {
	c := clinicOf(t, enrollmentsFile)
	day := func(step int, in rules.InState) *record {
		return &record{e: c.Enrollments.At(0), prog: c.Programs["steady"], state: in,
			days: []journal.Day{{Date: oct5, Program: "steady", Step: step, Steps: 2, State: in}}}
	}
	for in, want := range map[rules.InState]string{
		rules.InActive: "active completed active draft", rules.InHeld: "active completed active draft", rules.InWaiting: "active completed active draft",
		rules.InEased: "active completed active draft", rules.InPaused: "on-hold completed on-hold draft", rules.InAway: "on-hold completed on-hold draft",
		rules.InSuspended: "on-hold completed on-hold draft", rules.InOptedOut: "on-hold completed on-hold draft",
		rules.InFinished: "completed completed completed revoked", rules.InDischarged: "completed completed completed revoked",
		rules.InMaintenance: "active completed completed active",
	} {
		r := day(2, in)
		got := r.status().Code()
		for step := range 3 {
			got += " " + r.stepStatus(step).Code()
		}
		if got != want {
			t.Errorf("%s: %s, want %s", in, got, want)
		}
	}
	if r := day(0, rules.InActive); r.stepStatus(0).Code() != "draft" {
		t.Errorf("before the exercises: %s", r.stepStatus(0).Code())
	}
}

// A strike of a day that never had a score takes nothing back: there is no
// Observation that anybody could have taken over.
func TestAStrikeOfNoScore(t *testing.T) {
	b := newBook(t, enrollmentsFile)
	b.enroll("ada-1")
	b.settle("ada-1", b.daily("ada-1", 1, "spool", nil), 1, journal.Sent)
	b.hear("ada-1", "spool", "D", 1, rules.Reading{Done: rules.DoneAll})
	b.add(journal.Event{Kind: journal.Revised, ID: "ada-1", At: at(1, 40), State: &rules.State{Rev: 2, Program: "steady", Decided: oct5},
		Entry: &rules.Entry{Kind: rules.EntryStrike, Report: oct5, By: "J. Marlowe DPM"}})
	if got := of(readBundle(t, b.write(Options{Form: FHIR, ID: "ada-1"})), "Observation"); len(got) != 0 {
		t.Errorf("a score that never was: %v", got[0].m)
	}
}

// On a date without a message, as in a pause, no exercise was asked for.
func TestDueIsWhatWasAskedFor(t *testing.T) {
	d := journal.Day{State: rules.InPaused, Due: []string{"raise", "calf"}}
	if got := due(&d); got != "" {
		t.Errorf("no message, and due were %q", got)
	}
	if d.Sent = true; due(&d) != "raise calf" {
		t.Errorf("with a message, due were %q", due(&d))
	}
}
