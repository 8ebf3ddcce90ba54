package journal

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"runtime"
	"time"

	"stepgate/rules"
)

// Person is one enrollment as the events so far leave it.
type Person struct {
	State rules.State `json:"state"`
	Due   time.Time   `json:"due,omitzero"`   // whole seconds; zero: not due
	Gone  bool        `json:"gone,omitempty"` // no longer in the clinic's files
	Since time.Time   `json:"since"`          // first enrolled
	From  string      `json:"from,omitempty"` // the number of ours that the last daily text came from
	Dead  []byte      `json:"dead,omitempty"` // hash of the contact at which nothing arrives
	Told  *Told       `json:"told,omitempty"` // nil: no date was decided yet
}

// person is a Person as the fold handles it: the same JSON, with the state
// left as bytes.
type person struct {
	State json.RawMessage `json:"state"`
	Due   time.Time       `json:"due,omitzero"`
	Gone  bool            `json:"gone,omitempty"`
	Since time.Time       `json:"since"`
	From  string          `json:"from,omitempty"`
	Dead  []byte          `json:"dead,omitempty"`
	Told  json.RawMessage `json:"told,omitempty"`
	Last  uint64          `json:"last,omitempty"` // newest event on their thread; see trail
}

// rev is the state's revision.
func (p *person) rev() (int, error) {
	return readRev(p.State)
}

// person returns an enrollment, or nil. Nobody changes what it gives.
func (c *core) person(id string) (*person, error) {
	if c.lately.person != nil && c.lately.id == id {
		return c.lately.person, nil
	}
	v := c.get(inPeople, []byte(id))
	if v == nil {
		return nil, nil
	}
	p, err := readPerson(id, v)
	if err == nil {
		c.lately.id, c.lately.person = id, p
	}
	return p, err
}

func parsePerson(id, v []byte) (*Person, error) {
	p := &Person{}
	if p.scan(v) {
		return p, nil
	}
	p = &Person{}
	if err := json.Unmarshal(v, p); err != nil {
		return nil, fmt.Errorf("%w: read person %q: %w", ErrDamaged, id, err)
	}
	return p, nil
}

// Person returns an enrollment, or nil if it never was one.
func (tx *Tx) Person(id string) (*Person, error) {
	v := tx.c.get(inPeople, []byte(id))
	if v == nil {
		return nil, nil
	}
	return parsePerson([]byte(id), v)
}

// PersonRow is an enrollment as it lies in the file, or nil: as long as it stays
// the same, so does what [Tx.Person] returns. It is valid within the transaction.
func (tx *Tx) PersonRow(id string) []byte { return tx.c.get(inPeople, []byte(id)) }

// Outline returns an enrollment, or nil, with nothing in its state but the
// revision.
func (tx *Tx) Outline(id string) (*Person, error) {
	p, err := tx.c.person(id)
	if err != nil || p == nil {
		return nil, err
	}
	rev, err := p.rev()
	if err != nil {
		return nil, err
	}
	return &Person{State: rules.State{Rev: rev}, Gone: p.Gone, From: p.From, Dead: bytes.Clone(p.Dead)}, nil
}

// People calls fn with every enrollment, gone ones too, in order of id, and
// stops at its first error. Where there are many they are parsed ahead, on
// every processor: parsing is most of the work.
func (tx *Tx) People(fn func(id string, p *Person) error) error {
	const lot = 256
	var ahead []chan *peopleLot
	defer func() { // the values of those under way go with the transaction
		for _, done := range ahead {
			<-done
		}
	}()
	take := func() error {
		l := <-ahead[0]
		ahead = ahead[1:]
		for i, p := range l.people {
			if err := fn(l.ids[i], p); err != nil {
				return err
			}
		}
		return l.err
	}
	cur := tx.c.in(inPeople).Cursor()
	k, v := cur.First()
	for k != nil {
		l := &peopleLot{}
		for ; k != nil && len(l.ids) < lot; k, v = cur.Next() {
			l.ids, l.values = append(l.ids, string(k)), append(l.values, v)
		}
		done := make(chan *peopleLot, 1) // so that nobody waits for one who stopped
		go func() { l.parse(); done <- l }()
		ahead = append(ahead, done)
		if len(ahead) > runtime.GOMAXPROCS(0) {
			if err := take(); err != nil {
				return err
			}
		}
	}
	for len(ahead) > 0 {
		if err := take(); err != nil {
			return err
		}
	}
	return nil
}

// peopleLot is a run of enrollments: the values are the transaction's.
type peopleLot struct {
	ids    []string
	values [][]byte
	people []*Person
	err    error
}

// parse stops at the first value that can't be read.
func (l *peopleLot) parse() {
	for i, v := range l.values {
		p, err := parsePerson([]byte(l.ids[i]), v)
		if err != nil {
			l.err = err
			return
		}
		l.people = append(l.people, p)
	}
}

// DueRow is one line of the due index.
type DueRow struct {
	ID string
	At time.Time
}

// DueBy returns up to limit (0: all) enrollments due at or before now, the
// earliest first. It reads no more than it returns.
func (tx *Tx) DueBy(now time.Time, limit int) ([]DueRow, error) {
	var rows []DueRow
	if now.Unix() < 0 {
		return nil, nil
	}
	end := u64(uint64(now.Unix()))
	cur := tx.c.in(inDue).Cursor()
	for k, _ := cur.First(); k != nil; k, _ = cur.Next() {
		if len(k) <= 8 {
			return nil, fmt.Errorf("%w: due index", ErrDamaged)
		}
		if bytes.Compare(k[:8], end) > 0 || limit > 0 && len(rows) == limit {
			break
		}
		at := time.Unix(int64(binary.BigEndian.Uint64(k)), 0).UTC()
		rows = append(rows, DueRow{ID: string(k[8:]), At: at})
	}
	return rows, nil
}
