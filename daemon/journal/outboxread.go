package journal

import "slices"

// Progress says how far a message of the outbox has come, or nil: a [Row]
// without what it says and decides.
func (tx *Tx) Progress(key string) (*Row, error) {
	r, err := tx.c.row(key)
	if err != nil || r == nil {
		return nil, err
	}
	return r.public(), nil
}

func (r *row) public() *Row {
	out := r.Out
	out.Alerts = slices.Clone(out.Alerts) // the row may be kept, and read again
	return &Row{Out: out, Enrollment: r.Enrollment, Status: r.Status, Tries: r.Tries, NotBefore: r.NotBefore, CarrierID: r.CarrierID,
		Code: r.Code, Seq: r.Seq, SentAt: r.SentAt, News: r.News, NewsCode: r.NewsCode, Day: r.Day}
}

// Decides tells whether what a daily message decides is still to become final:
// it was never handed over.
func (r *Row) Decides() bool { return r.Kind == "daily" && r.Tries == 0 }

// Row returns a message of the outbox, or nil.
func (tx *Tx) Row(key string) (*Row, error) {
	r, err := tx.Progress(key)
	if err != nil || r == nil {
		return nil, err
	}
	return r, tx.whole(r)
}

// indexed returns a row that an index names by the number of its intent.
func (tx *Tx) indexed(seq []byte) (Row, error) {
	r, err := tx.c.rowAt(seq)
	if err != nil {
		return Row{}, err
	}
	whole := r.public()
	return *whole, tx.whole(whole)
}

// HandedRows returns the messages that were marked as handed over and have no
// outcome yet, in the order of the intents: while nothing is in flight, what a
// dead process left behind.
func (tx *Tx) HandedRows() ([]Row, error) {
	var rows []Row
	cur := tx.c.in(inHanded).Cursor()
	for k, _ := cur.First(); k != nil; k, _ = cur.Next() {
		r, err := tx.indexed(k)
		if err != nil {
			return nil, err
		}
		rows = append(rows, r)
	}
	return rows, nil
}
