package journal

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"time"
)

// AlertRow is one alert as far as it has come. What it says is in its event.
type AlertRow struct {
	Seq        uint64    `json:"-"`
	Enrollment string    `json:"enrollment,omitempty"` // empty: the clinic's
	Notice     string    `json:"notice"`
	Rank       int       `json:"rank,omitempty"`
	To         string    `json:"to"`
	At         time.Time `json:"at"`
	Due        time.Time `json:"due,omitzero"`   // when it goes out next; zero: not again
	Mail       string    `json:"mail,omitempty"` // key of the last message that told of it
	Told       int       `json:"told,omitempty"` // messages that told of it
	Acked      time.Time `json:"acked,omitzero"`
	How        string    `json:"how,omitempty"` // what was done about it
	By         string    `json:"by,omitempty"`
}

// alertBody is an Alert as far as the fold needs it.
type alertBody struct {
	Key    string `json:"key"`
	Notice struct {
		Kind string `json:"kind"`
	} `json:"notice"`
	Rank int       `json:"rank"`
	To   string    `json:"to"`
	Due  time.Time `json:"due"`
}

func alertKey(key string) []byte { h := sha256.Sum256([]byte(key)); return h[:] }

func (f *fold) alerted() error {
	a := f.body.Alert
	if a == nil || a.Key == "" || a.To == "" || !inRange(a.Due) {
		return invalid("needs an alert with a key, an addressee and a time")
	}
	if f.c.get(inAlertKeys, alertKey(a.Key)) != nil {
		return fmt.Errorf("%w: this cause was told before", ErrKeyTaken)
	}
	f.put(inAlertKeys, alertKey(a.Key), u64(f.seq))
	return f.putAlert(&AlertRow{Seq: f.seq, Enrollment: f.id, Notice: a.Notice.Kind, Rank: a.Rank, To: a.To, At: f.at.UTC()}, a.Due)
}

// putAlert writes a row whose next time of going out is due.
func (f *fold) putAlert(r *AlertRow, due time.Time) error {
	if !r.Due.IsZero() {
		f.del(inAlertsDue, atKey(r.Due, r.Seq))
	}
	if r.Due = due.UTC(); !due.IsZero() {
		if !inRange(due) {
			return invalid("time of an alert is out of range")
		}
		f.put(inAlertsDue, atKey(due, r.Seq), []byte{})
	}
	v, err := toJSON(r)
	if err != nil {
		return fmt.Errorf("write alert: %w", err)
	}
	f.put(inAlerts, u64(r.Seq), v)
	return nil
}

// alertOf loads an alert; one whose patient was erased is nil.
func (c *core) alertOf(seq uint64) (*AlertRow, error) {
	v := c.get(inAlerts, u64(seq))
	if v == nil {
		return nil, nil
	}
	r := &AlertRow{Seq: seq}
	if err := json.Unmarshal(v, r); err != nil {
		return nil, fmt.Errorf("%w: read alert: %w", ErrDamaged, err)
	}
	return r, nil
}

// mailed notes which message tells of alerts. Those that nobody acknowledged
// until Again are due once more.
func (f *fold) mailed(out *rawOut) error {
	for _, seq := range out.Alerts {
		r, err := f.c.alertOf(seq)
		if err != nil {
			return err
		}
		if r == nil {
			continue
		}
		if f.id != "" && r.Enrollment != f.id {
			return invalid("alert %d is not about this enrollment", seq)
		}
		r.Mail = out.Key
		r.Told++
		due := out.Again
		if !r.Acked.IsZero() {
			due = time.Time{}
		}
		if err := f.putAlert(r, due); err != nil {
			return err
		}
	}
	return nil
}

func (f *fold) acked() error {
	if len(f.body.Alerts) == 0 {
		return invalid("needs alerts")
	}
	for _, seq := range f.body.Alerts {
		r, err := f.c.alertOf(seq)
		if err != nil {
			return err
		}
		if r == nil || !r.Acked.IsZero() {
			continue
		}
		r.Acked, r.How, r.By = f.at.UTC(), f.body.Why, f.body.By
		if err := f.putAlert(r, time.Time{}); err != nil {
			return err
		}
	}
	return nil
}

// AlertOf returns an alert by the number of its event, or nil.
func (tx *Tx) AlertOf(seq uint64) (*AlertRow, error) { return tx.c.alertOf(seq) }

// AlertKnown tells whether a cause was told.
func (tx *Tx) AlertKnown(key string) bool { return tx.c.get(inAlertKeys, alertKey(key)) != nil }

// AlertsDue returns up to limit (0: all) alerts that are to go out by now, the
// earliest first.
func (tx *Tx) AlertsDue(now time.Time, limit int) ([]AlertRow, error) {
	var rows []AlertRow
	cur := tx.c.in(inAlertsDue).Cursor()
	for k, _ := cur.First(); len(k) == 16 && !keyTime(k).After(now); k, _ = cur.Next() {
		if limit > 0 && len(rows) == limit {
			break
		}
		r, err := tx.c.alertOf(binary.BigEndian.Uint64(k[8:]))
		if err != nil {
			return nil, err
		}
		if r != nil {
			rows = append(rows, *r)
		}
	}
	return rows, nil
}

// OpenAlerts calls fn with every alert that is still to go out, for the first
// time or once more, and stops at its first error.
func (tx *Tx) OpenAlerts(fn func(*AlertRow) error) error {
	cur := tx.c.in(inAlertsDue).Cursor()
	for k, _ := cur.First(); len(k) == 16; k, _ = cur.Next() {
		r, err := tx.c.alertOf(binary.BigEndian.Uint64(k[8:]))
		if err == nil && r != nil {
			err = fn(r)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// Alerts calls fn with every alert, newest first, and stops at its first error.
func (tx *Tx) Alerts(fn func(*AlertRow) error) error {
	cur := tx.c.in(inAlerts).Cursor()
	for k, _ := cur.Last(); k != nil; k, _ = cur.Prev() {
		r, err := tx.c.alertOf(binary.BigEndian.Uint64(k))
		if err != nil {
			return err
		}
		if err := fn(r); err != nil {
			return err
		}
	}
	return nil
}

// Event returns one event, or nil where it is not there or was erased.
func (tx *Tx) Event(seq uint64, id string) (*Event, error) {
	sub, err := tx.c.subject(id)
	if err != nil || sub == nil {
		return nil, err
	}
	var found *Event
	r, plain, err := tx.c.read(u64(seq), func(sid [sidSize]byte) *subject {
		if sid == sub.sid {
			return sub
		}
		return nil
	})
	if err != nil || plain == nil {
		return nil, err
	}
	err = give(r, id, plain, func(e Event) error { found = &e; return nil })
	return found, err
}
