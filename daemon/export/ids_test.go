package export

import (
	"context"
	"maps"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"stepgate/daemon/journal"
	"stepgate/rules"
)

// urlsOf are the ids of a bundle.
func urlsOf(t *testing.T, text string) []string {
	t.Helper()
	set := map[string]bool{}
	for _, r := range readBundle(t, text) {
		set[r.URL] = true
	}
	return slices.Sorted(maps.Keys(set))
}

// Ids are the same in every export of a journal, with more in it later too;
// another journal with the same patients has none of them, nor has whoever is
// enrolled under the id of one who was erased.
func TestIDs(t *testing.T) {
	b := aWeek(t)
	o := Options{Form: FHIR}
	first := urlsOf(t, b.write(o))
	b.close()
	b.open()
	if again := urlsOf(t, b.write(Options{Form: FHIR, Texts: true})); !slices.Equal(first, again) {
		t.Error("the second export has other ids")
	}
	b.settle("ada-1", b.daily("ada-1", 5, "spool", nil), 5, journal.Sent)
	later := urlsOf(t, b.write(o))
	if len(later) != len(first)+1 || slices.ContainsFunc(first, func(u string) bool { return !slices.Contains(later, u) }) {
		t.Errorf("%d ids at first, %d once there is one more message", len(first), len(later))
	}
	other := urlsOf(t, aWeek(t).write(o))
	err := b.j.Update(context.Background(), func(tx *journal.Tx) error { return tx.Erase("ada-1", at(6, 0), "admin", "asked for") })
	if err != nil {
		t.Fatal(err)
	}
	due := at(7, 0)
	b.add(journal.Event{Kind: journal.Enrolled, ID: "ada-1", At: at(6, 1), State: &rules.State{Program: "steady"}, Due: &due})
	anew := urlsOf(t, b.write(Options{Form: FHIR, ID: "ada-1"}))
	for _, u := range slices.Concat(other, anew) {
		if slices.Contains(later, u) {
			t.Errorf("%s is somebody else's too", u)
		}
	}
	if len(anew) == 0 {
		t.Error("whoever is enrolled anew is not exported")
	}
}

// Whatever days a journal holds, the bundle keeps to the schema and every
// reference resolves.
func TestAnyDays(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		b := newBook(t, enrollmentsFile)
		defer b.close()
		b.enroll("ada-1", "ben-2")
		score := rapid.IntRange(0, 10)
		for day := 1; day <= rapid.IntRange(0, 4).Draw(rt, "days"); day++ {
			id := rapid.SampledFrom([]string{"ada-1", "ben-2"}).Draw(rt, "id")
			state := rapid.SampledFrom([]rules.InState{rules.InActive, rules.InHeld, rules.InPaused, rules.InMaintenance, rules.InDischarged}).Draw(rt, "state")
			key := b.daily(id, day, rapid.SampledFrom([]string{"sms", "email", "spool"}).Draw(rt, "channel"), func(d *rules.Decision) {
				d.State, d.Step = state, rapid.IntRange(0, 2).Draw(rt, "step")
			})
			if rapid.Bool().Draw(rt, "settled") {
				b.settle(id, key, day, rapid.SampledFrom([]journal.Status{journal.Sent, journal.Rejected, journal.Unknown, journal.Expired}).Draw(rt, "status"))
			}
			if rapid.Bool().Draw(rt, "heard") {
				pain, first := score.Draw(rt, "pain"), score.Draw(rt, "first")
				b.hear(id, "sms", rapid.StringN(1, 8, 20).Draw(rt, "text"), day, rules.Reading{Pain: &pain, FirstStep: &first})
			}
		}
		o := Options{Form: FHIR, Texts: rapid.Bool().Draw(rt, "texts")}
		if rapid.Bool().Draw(rt, "narrow") {
			o.From = oct5 + rules.Date(rapid.IntRange(0, 3).Draw(rt, "from"))
		}
		readBundle(rt, b.write(o))
	})
}
