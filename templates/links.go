package templates

import "stepgate/rules"

// DayLinks are the pages on which a patient can answer a mail without writing
// one: full https addresses. An empty one has no button. Opening a page changes
// nothing; it asks first.
type DayLinks struct {
	Done, Some, None string
	Pain             [11]string // by the number 0 to 10
	First            bool       // the numbers are first-step pain
	Stop             string
}

// dayLinks are the buttons one day's mail wants.
type dayLinks struct {
	Done, Some, None string
	Label            string // of the row of numbers
	Numbers          []numberLink
}

type numberLink struct {
	N    int
	Link string
}

// linksOf are the buttons of a day: done, some and not today where an exercise
// is due, and the row of numbers where a number is asked for. A row that would
// be noted as another kind of pain than the one asked for is left out.
func (l *language) linksOf(v day) (buttons *dayLinks, stop string) {
	from := v.Links
	if from == nil {
		return nil, ""
	}
	out := new(dayLinks)
	if len(v.Items) > 0 {
		out.Done, out.Some, out.None = from.Done, from.Some, from.None
	}
	if v.Ask != rules.AskNothing && from.First == (v.Ask == rules.AskFirstStep) {
		for n, link := range from.Pain {
			if link != "" {
				out.Numbers = append(out.Numbers, numberLink{n, link})
			}
		}
		out.Label = l.line("tap", v)
	}
	if out.Done == "" && out.Some == "" && out.None == "" && len(out.Numbers) == 0 {
		return nil, from.Stop
	}
	return out, from.Stop
}
