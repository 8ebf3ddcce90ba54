package rules

import "time"

// review makes P wait before a week that wants a review first, where P is to
// go on from one week to another. The clinician is told once.
func (x *settling) review(from, to int) (Reason, bool) {
	s := &x.s
	for i, week := range x.p.Reviews {
		if week <= from || week > to || s.Reviews > i {
			continue
		}
		if s.RevTold != week {
			s.RevTold = week
			x.notices = append(x.notices, Notice{Kind: NoticeReview, Since: x.d})
		}
		return Reason{Code: Review, Rule: "review before week", At: x.p.At("review before week"), Need: week}, true
	}
	return Reason{}, false
}

// atEnd tells whether nothing follows the day P is on: the table's last, or
// any in maintenance once its months are over.
func (x *settling) atEnd(i int) bool {
	if i == len(x.p.Blocks) && x.p.After != nil && len(x.p.Blocks) > 0 {
		return x.s.Maint != 0 && x.d >= x.s.Maint.addMonths(x.p.After.Months)
	}
	return x.p.Weeks > 0 && x.s.P >= x.p.Weeks*7
}

// keepBlock takes note of the block served where an edit took one away or put
// one before the maintenance.
func (x *settling) keepBlock() {
	if x.s.P > 0 && len(x.table) > 0 {
		x.serve(x.block())
	}
}

// wearRuns tells whether something of the wear-in is still to come.
func (x *settling) wearRuns() bool {
	s := &x.s
	return x.wear != nil && (s.W < x.wear.FullDay() || s.Skin.Out || s.Skin.Wait > 0 || s.DevOut)
}

// end finishes the program: maintenance by the calendar, the table by the
// advance rule, neither while the wear-in still runs.
func (x *settling) end() Reason {
	if x.wearRuns() {
		return Reason{Code: TableEnd, Rule: "wear", At: x.p.At("wear")}
	}
	if x.s.Maint == 0 && len(x.p.Blocks) > 0 {
		if why, met := x.advance(); !met {
			return why
		}
	}
	x.closing = true
	x.s.Finished = true
	if x.s.Last != Finished { // else the closing text goes out again
		x.notices = append(x.notices, Notice{Kind: NoticeFinished, Since: x.d})
	}
	return Reason{Code: Finished, Rule: "length", At: x.p.At("length")}
}

// addMonths is the date n months later; past the end of a short month it runs
// on into the next.
func (d Date) addMonths(n int) Date {
	y, m, day := d.Civil()
	return NewDate(y, m+time.Month(n), day)
}
