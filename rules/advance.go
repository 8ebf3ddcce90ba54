package rules

// advance is the advance rule over the window. Which of its dates had an
// exercise due is read off the block served now, also for a rest day or a
// date in an earlier block: two histories in one block are asked for the same.
func (x *settling) advance() (Reason, bool) {
	a := x.p.Advance
	why := Reason{Code: Waiting, Rule: "advance", At: x.p.At("advance")}
	days := x.s.Days
	if len(days) < a.Last {
		why.Short, why.Have, why.Need = "dates", len(days), a.Last
		return why, false
	}
	days = days[len(days)-a.Last:]
	block := x.table[x.block()]
	due, halves, scores := 0, 0, 0
	for _, d := range days {
		if x.e.anyOn(block, d.Date) {
			due++
			halves += d.Halves
		}
		if d.Score != nil {
			scores++
			if *d.Score > x.lines.Steady {
				why.Short, why.Score, why.Since = "over steady", d.Score, d.Date
				return why, false
			}
		}
	}
	need := (due*a.Done + 50) / 100 // the nearest whole, a half upward
	switch {
	case due < 2:
		why.Short, why.Have, why.Need = "due dates", due, 2
	case halves < 2*need:
		why.Short, why.Have, why.Need = "done", halves/2, need
	case scores < a.Scores:
		why.Short, why.Have, why.Need = "scores", scores, a.Scores
	default:
		return why, true
	}
	return why, false
}
