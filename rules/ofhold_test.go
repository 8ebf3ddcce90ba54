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
	ahead := rules.Entry{Kind: rules.EntryRelease, On: monday + 5, By: by, OfHold: monday}
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
	// Another hold that was written meanwhile stands too.
	s = rules.Enter(rules.Enter(rules.Enter(rules.State{}, hold, monday), rules.Entry{Kind: rules.EntryHold, On: monday + 1, By: by}, monday+1), ahead, monday+5)
	if s.Held == nil || s.Held.Since != monday+1 {
		t.Errorf("the later hold: %+v", s.Held)
	}
	s = rules.State{Pause: pause}
	plain := ahead
	plain.OfHold = 0
	if s = rules.Enter(s, plain, monday+5); s.Pause != nil {
		t.Error("a plain release leaves the pause")
	}
	if plain.ID() == ahead.ID() {
		t.Error("the two releases are taken for one entry")
	}
}
