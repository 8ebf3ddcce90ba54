package rules

// block is the index of the block served. It is not simply the block of P:
// after an edit of the program P may lie in a later block, which is entered
// by the advance rule alone, one block at a time.
func (x *settling) block() int { return x.p.block(&x.s) }

func (p *Program) block(s *State) int {
	last := len(p.Blocks) - 1
	i := min(p.BlockAt(s.P), p.weekBlock(s.Week), max(0, last))
	if s.Maint != 0 && i == last && p.BlockAt(s.P) > last {
		return last + 1 // maintenance
	}
	return i
}

// weekBlock is the block of the table that a week falls in.
func (p *Program) weekBlock(week int) int { return p.BlockAt(max(1, (week-1)*7+1)) }

// serve lets P into block i.
func (x *settling) serve(i int) {
	s, last := &x.s, max(0, len(x.p.Blocks)-1)
	s.Week = x.table[min(i, last)].Week // in maintenance the last block of the table
	switch {
	case i <= last:
		s.Maint = 0
	case s.Maint == 0:
		s.Maint = x.d
	}
}

func (x *settling) capped() Reason {
	return Reason{Code: Capped, Rule: "entry", At: x.e.capAt(x.d), Need: x.s.Cap}
}

// capAt is where the cap in force was written: the last one whose date came.
func (e *Enrollment) capAt(d Date) Pos {
	at := e.At
	for _, n := range e.Entries {
		if n.Kind == EntryCap && n.On <= d {
			at = n.At
		}
	}
	return at
}

// capBlock is the block i, or the highest one that the cap lets in under it. A
// cap at the last step of the table or over it binds nothing: it would bring
// one who is in maintenance back to more.
func (x *settling) capBlock(i int) int {
	if x.s.Cap > 0 && x.s.Cap < len(x.p.Blocks) {
		return min(i, x.s.Cap-1)
	}
	return i
}

// clampToCap sends P to the last day of the capped block where it stands
// above. It comes before everything else: a step back on the same date goes
// back from there, and a cap is never exceeded. Where P lies in a later block
// than the one served, after an edit, it is P that counts, or one who was let
// into that block before would be sent back further.
func (x *settling) clampToCap() {
	s := &x.s
	if s.P == 0 || len(x.table) == 0 {
		return
	}
	i, at := x.block(), x.p.BlockAt(s.P)
	if c := x.capBlock(at); c < at {
		s.P = x.p.LastDay(c)
		x.serve(min(i, c))
	}
}
