package rules_test

import (
	"testing"

	"stepgate/rules"
)

// A release that was written ahead, as the end of a hold, was written by
// somebody who knew nothing of a pause that began meanwhile: it ends the hold,
// and the pause stands until somebody has seen to it.
func TestReleaseOfAHoldOnly(t *testing.T) {
	by := "J. Marlowe DPM"
	hold := rules.Entry{Kind: rules.EntryHold, On: monday, By: by}
	ahead := rules.Entry{Kind: rules.EntryRelease, On: monday + 5, By: by, HoldOnly: true}
	pause := &rules.Pause{Since: monday + 2, Cause: "pop"}

	s := rules.Enter(rules.State{}, hold, monday)
	s.Pause = pause
	s = rules.Enter(s, ahead, monday+5)
	if s.Held != nil || s.Pause != pause || s.Window != monday+5 {
		t.Errorf("after the hold's end: %+v", s)
	}
	// With no hold left it does nothing but be read.
	s = rules.Enter(rules.State{Pause: pause, Window: monday}, ahead, monday+5)
	if s.Pause != pause || s.Window != monday || len(s.Read) != 1 {
		t.Errorf("without a hold: %+v", s)
	}
	plain := ahead
	plain.HoldOnly = false
	if s = rules.Enter(s, plain, monday+5); s.Pause != nil {
		t.Error("a plain release leaves the pause")
	}
	if plain.ID() == ahead.ID() {
		t.Error("the two releases are taken for one entry")
	}
}
