package outcomes

import "stepgate/rules"

// Improves tells whether first-step pain went down from base to score by an
// amount that matters to a patient: 2 points of 10, or 30 percent of the base
// (Farrar JT et al., Pain 2001;94:149-58). From a base of 0 none can.
func Improves(base, score int) bool {
	down := base - score
	return down >= 2 || down > 0 && 10*down >= 3*base
}

// Near is how many dates up to the one that ends a week an answer may lie on
// to stand for that week: the question comes weekly, and one may be missed.
const Near = 14

// firstSteps compares the first-step answers with their base.
//
// The base is the usual first-step pain written at enrollment, else the first
// answer. Improvement by week n is read off the last answer of the Near dates
// up to day 7n+1, the day on which n weeks are full; what came later does not
// change it.
func (c *Course) firstSteps(p *Patient) {
	switch {
	case p.UsualStep != nil:
		c.Base = &Base{Score: *p.UsualStep, From: FromUsual}
	case len(c.Firsts) > 0:
		c.Base = &Base{Score: c.Firsts[0].Score, From: FromFirst, Date: c.Firsts[0].Date}
	}
	if c.Base != nil {
		for i := range c.Firsts {
			f := &c.Firsts[i]
			f.Change = f.Score - c.Base.Score
			f.Improved = Improves(c.Base.Score, f.Score)
		}
	}
	c.Week6, c.Week12 = c.by(6, p), c.by(12, p)
}

// by gives the verdict by one week.
func (c *Course) by(week int, p *Patient) Improved {
	v := Improved{Week: week}
	on := c.start + rules.Date(7*week)
	if !p.over(on) {
		v.Verdict = NotYet
		return v
	}
	base, answer := c.Base, -1
	if base != nil && base.Date > on {
		base = nil // the first answer came later
	}
	for i, f := range c.Firsts {
		if f.Date <= on && f.Date > on-Near {
			answer = i
		}
	}
	switch {
	case base == nil, base.From == FromFirst && answer == 0:
		v.Verdict = NoBase
		return v
	case base.Score == 0:
		v.Verdict = NoPain
	case answer < 0:
		v.Verdict = NoAnswer
	case c.Firsts[answer].Improved:
		v.Verdict = Yes
	default:
		v.Verdict = No
	}
	if answer >= 0 {
		f := c.Firsts[answer]
		v.Date, v.Score, v.Change = f.Date, &f.Score, &f.Change
	}
	return v
}
