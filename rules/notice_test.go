package rules_test

import (
	"fmt"
	"slices"
	"testing"

	"stepgate/rules"
)

// told lists the dates, from 0, on which a notice of a kind was given.
func told(out []outcome, kind rules.NoticeKind) []int {
	var on []int
	for i, o := range out {
		if o.dec == nil {
			continue
		}
		for _, n := range o.dec.Notices {
			if n.Kind == kind {
				on = append(on, i)
			}
		}
	}
	return on
}

func TestNotices(t *testing.T) {
	alternate := change(plan(1), func(p *rules.Program) { p.Blocks[0].Doses = everyOther(p.Blocks[0].Doses) })
	for _, c := range []struct {
		name    string
		program *rules.Program
		days    string
		kind    rules.NoticeKind
		on      []int
	}{
		{name: "silent after three messages, once", days: "d0 6x-", kind: rules.NoticeSilent, on: []int{4}},
		{name: "silent from the first text", days: "5x-", kind: rules.NoticeSilent, on: []int{3}},
		{name: "a report starts the count anew", days: "- - d0 - - - - d0 - - - -", kind: rules.NoticeSilent, on: []int{6, 11}},
		{name: "messages count, not dates", program: alternate, days: "7x-", kind: rules.NoticeSilent, on: []int{5}},
		{name: "a message not taken is no silence, and tells nothing twice", days: "d0 - - - untaken untaken -", kind: rules.NoticeSilent, on: []int{4}},
		{name: "away is no silence", days: "d0/a4 - - - - d0", kind: rules.NoticeSilent},
		{name: "held seven days, once", days: "d0 d5 12x-", kind: rules.NoticeHeldLong, on: []int{8}},
		{name: "held seven days by pain every day", days: "d0 13xd5", kind: rules.NoticeHeldLong, on: []int{8}},
		{name: "held seven days by step backs", days: "d0 13xd6", kind: rules.NoticeHeldLong, on: []int{8}},
		{name: "a hold that ends in time tells nothing", days: "d5 4x- 0 0 0", kind: rules.NoticeHeldLong},
		{name: "the next hold is told again", days: "d5 8x0 d5 8x-", kind: rules.NoticeHeldLong, on: []int{16}},
		{name: "a pause is no long hold, and a release counts anew", days: "d0 d8 9x- release 9x-", kind: rules.NoticeHeldLong, on: []int{18}},
		{name: "a second step back in fourteen dates", days: "d6 13x0 d6 -", kind: rules.NoticeSecondBack},
		{name: "one date earlier is a second", days: "d6 12x0 d6 -", kind: rules.NoticeSecondBack, on: []int{14}},
		{name: "and a third is told too", days: "d6 d6 d6 -", kind: rules.NoticeSecondBack, on: []int{2, 3}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := told(row{program: c.program, days: c.days}.play(t), c.kind)
			if !slices.Equal(got, c.on) {
				t.Errorf("%s told on %v, want %v", c.kind, got, c.on)
			}
		})
	}
}

func TestNoticesSaySinceWhen(t *testing.T) {
	silent := only(t, row{days: "d0 6x-"}.play(t), 4).Notices
	if want := fmt.Sprint([]rules.Notice{{Kind: rules.NoticeSilent, Since: monday + 1}}); fmt.Sprint(silent) != want {
		t.Errorf("silent: %v, want %v", silent, want)
	}
	long := only(t, row{days: "d0 d5 d0 6xd5"}.play(t), 8).Notices
	if len(long) != 1 || long[0].Since != monday+1 {
		t.Errorf("held seven days: %v, want since %v", long, monday+1)
	}
}

// TestWhatEndsASilence: every kind of report, and the clinic's word that the
// contact is right.
func TestWhatEndsASilence(t *testing.T) {
	for word, ends := range map[string]bool{
		"d": true, "s": true, "n": true, "3": true, "f3": true, "w1": true, "b": true, "red": true,
		"a0": false, "denied": false, "call": false, "start": false, "confirm": true, "hold": false,
	} {
		got := told(row{days: "- - " + word + " -"}.play(t), rules.NoticeSilent)
		if (len(got) == 0) != ends {
			t.Errorf("after two silent dates and %q: silent told on %v, want silence ended %v", word, got, ends)
		}
	}
}
