package templates

import (
	"strings"

	"stepgate/rules"
)

// readKeys are the facts of a reading that a story tells, in its order.
var readKeys = []string{
	"done all", "done some", "done none", "pain", "first step", "skin", "skin ok", "wear", "how", "away",
	"call", "stop", "start", "help", "wrong person", "ask stop", "flags", "denied", "unread",
}

// fact is what the templates of readings see.
type fact struct {
	N     int
	Side  string
	Hours *float64
	Words string
}

// reading says what a text was taken for, in fragments: "all done, pain 5".
func (l *language) reading(r rules.Reading) string {
	number := func(p *int) fact {
		if p == nil {
			return fact{}
		}
		return fact{N: *p}
	}
	pain := number(r.Pain)
	pain.Side = r.Side
	said := map[string]bool{
		"done " + string(r.Done): r.Done != "", "pain": r.Pain != nil, "first step": r.FirstStep != nil,
		"skin": r.Skin, "skin ok": r.SkinOK, "wear": r.Wear != nil, "how": r.How != nil, "away": r.Away != nil,
		"call": r.Call, "stop": r.Stop, "start": r.Start, "help": r.Help, "wrong person": r.Wrong,
		"ask stop": r.AskStop, "flags": len(r.Flags) > 0, "denied": len(r.Denied) > 0, "unread": r.Unread,
	}
	facts := map[string]fact{
		"pain": pain, "first step": number(r.FirstStep), "wear": {Hours: r.Wear}, "away": number(r.Away),
		"flags": {Words: l.dangers(r.Flags)}, "denied": {Words: l.dangers(r.Denied)},
	}
	var parts []string
	for _, key := range readKeys {
		if said[key] {
			parts = append(parts, l.line("read/"+key, facts[key]))
		}
	}
	return strings.Join(parts, ", ")
}

// Reading says what a text was taken for, in fragments for a clinician: "all
// done, pain 5". It is empty where nothing was.
func (s *Set) Reading(lang string, r rules.Reading) string { return s.in(lang).reading(r) }

// Short says in a few words what a notice tells: "paused, pain 8".
func (s *Set) Short(n rules.Notice) string {
	return s.alertOf(Clinic{}, AlertData{Notice: n}).Short
}
