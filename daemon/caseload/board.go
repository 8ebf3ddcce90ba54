package caseload

import (
	"cmp"
	"errors"
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/rules"
)

var errOld = errors.New("older than asked for")

// Query says whom a board is to show, and in which order.
type Query struct {
	Sort    string   // one of Sorts; "": need
	Only    []string // names of groups and states; none: everybody
	Program string   // id; "": all
	Limit   int      // rows at most; 0: all
}

// Sorts are the orders of a board. Need is by group, and in a group the one who
// waits longest first; pain has the worst first, done who did the least, last
// who was heard of least lately.
var Sorts = []string{"need", "id", "day", "pain", "done", "last"}

// UnknownError is a word that names nothing of what it should.
type UnknownError struct {
	Flag, Got string
	Known     []string
}

func (e UnknownError) Error() string {
	return fmt.Sprintf("%s: there is no %q; it takes %s", e.Flag, e.Got, strings.Join(e.Known, ", "))
}

// Check brings the names of a query into one form and refuses one that is not
// known.
func (q *Query) Check() error {
	if q.Sort == "" {
		q.Sort = Sorts[0]
	}
	if !slices.Contains(Sorts, q.Sort) {
		return UnknownError{"--sort", q.Sort, Sorts}
	}
	for i, s := range q.Only {
		name, ok := ParseGroup(s)
		if !ok {
			return UnknownError{"--only", s, GroupNames()}
		}
		q.Only[i] = name
	}
	if q.Limit < 0 {
		return fmt.Errorf("--limit: %d is less than none", q.Limit)
	}
	return nil
}

// Values writes a query into an address; ParseQuery reads it there.
func (q Query) Values() url.Values {
	v := url.Values{"sort": {q.Sort}, "program": {q.Program}, "limit": {strconv.Itoa(q.Limit)}}
	v["only"] = q.Only
	return v
}

// ParseQuery reads what [Query.Values] wrote; what is left out is as in the
// zero Query.
func ParseQuery(v url.Values) (q Query, err error) {
	q = Query{Sort: v.Get("sort"), Only: v["only"], Program: v.Get("program")}
	if s := v.Get("limit"); s != "" {
		if q.Limit, err = strconv.Atoi(s); err != nil {
			return q, fmt.Errorf("--limit: %q is no number", s)
		}
	}
	return q, q.Check()
}

func (q Query) takes(r *Row) bool {
	return (q.Program == "" || r.Program == q.Program) &&
		(len(q.Only) == 0 || slices.Contains(q.Only, string(r.Group)) || slices.Contains(q.Only, typed(r.State)))
}

// Board is a caseload as it is shown: some rows, and what there is beside them.
type Board struct {
	Clinic   string    `json:"clinic"`
	AsOf     time.Time `json:"as_of"` // in the clinic's zone
	Enrolled int       `json:"enrolled"`
	Decided  int       `json:"decided"` // of them, for whom a day was decided
	Look     int       `json:"look"`    // of them, who need a look
	Matching int       `json:"matching"`
	Groups   []Count   `json:"groups"` // of those matching, in the order of Groups
	Programs []string  `json:"programs"`
	Gone     []string  `json:"gone"`   // ids whose records are kept, but who are in the files no more
	Clinics  []Alert   `json:"alerts"` // not acknowledged, about nobody enrolled
	Rows     []Row     `json:"rows"`
	Quick    bool      `json:"quick_time,omitempty"` // of a made-up calendar
}

// Count is how many patients of a board are in a group.
type Count struct {
	Group Group `json:"group"`
	N     int   `json:"n"`
}

// List gives every enrollment of the clinic, by id.
func (v View) List(tx *journal.Tx) ([]Row, error) {
	b, err := v.Board(tx, Query{Sort: "id"})
	if err != nil {
		return nil, err
	}
	return b.Rows, nil
}

// Board gives the rows that a query asks for. It reads a record a patient, and
// the days of those only who are shown.
func (v View) Board(tx *journal.Tx, q Query) (*Board, error) {
	b := &Board{Clinic: v.Clinic.Name, AsOf: v.Now.In(v.Clinic.Zone), Enrolled: v.Clinic.Enrollments.Len(),
		Groups: []Count{}, Programs: []string{}, Gone: []string{}, Clinics: []Alert{}, Quick: v.Quick}
	for id := range v.Clinic.Programs {
		b.Programs = append(b.Programs, id)
	}
	slices.Sort(b.Programs)
	all, err := v.people(tx, b)
	if err != nil {
		return nil, fmt.Errorf("caseload: %w", err)
	}
	counts, shown := map[Group]int{}, all[:0]
	for _, c := range all {
		if c.row.Group.NeedsLook() {
			b.Look++
		}
		if q.takes(&c.row) {
			counts[c.row.Group]++
			shown = append(shown, c)
		}
	}
	b.Matching = len(shown)
	for _, g := range Groups {
		if counts[g] > 0 {
			b.Groups = append(b.Groups, Count{g, counts[g]})
		}
	}
	b.Rows, err = v.rows(tx, q, shown)
	return b, err
}

// card is a patient on the way to the board.
type card struct {
	place int // in the roll
	facts Facts
	row   Row
}

// people begins a row for everybody in the files.
func (v View) people(tx *journal.Tx, b *Board) ([]*card, error) {
	open, err := OpenAlerts(tx, v.Now)
	if err != nil {
		return nil, err
	}
	if b.Clinics, err = v.alerts(tx, open[""], v.Clinic.Zone); err != nil {
		return nil, err
	}
	all := v.Clinic.Enrollments
	list := make([]*card, all.Len())
	for i := range list {
		list[i] = &card{place: i, facts: Facts{Alerts: open[all.ID(i)]}}
	}
	err = tx.People(func(id string, p *journal.Person) error {
		i, ok := all.Find(id)
		if !ok {
			b.Gone = append(b.Gone, id)
			return nil
		}
		list[i].facts.Person = p
		if p.State.Decided != 0 {
			b.Decided++
		}
		return nil
	})
	for i, c := range list {
		c.facts.Enrollment = all.At(i)
		c.facts = v.factsOf(tx, c.facts)
		c.row = v.begin(c.facts)
		c.facts.Enrollment = nil // of very many it would take much; most are not shown
	}
	return list, err
}

// rows sorts, cuts and finishes. Where the order is of something that the days
// tell, they are read first.
func (v View) rows(tx *journal.Tx, q Query, list []*card) ([]Row, error) {
	finish := func() error {
		for _, c := range list {
			f := c.facts
			f.Enrollment = v.Clinic.Enrollments.At(c.place)
			if err := v.finish(tx, f, &c.row); err != nil {
				return fmt.Errorf("caseload: %s: %w", c.row.ID, err)
			}
		}
		return nil
	}
	late := q.Sort == "pain" || q.Sort == "done"
	if late {
		if err := finish(); err != nil {
			return nil, err
		}
	}
	order := orders[q.Sort]
	slices.SortFunc(list, func(a, b *card) int {
		return cmp.Or(order(&a.row, &b.row), cmp.Compare(a.row.ID, b.row.ID))
	})
	if q.Limit > 0 && len(list) > q.Limit {
		list = list[:q.Limit]
	}
	if !late {
		if err := finish(); err != nil {
			return nil, err
		}
	}
	rows := make([]Row, len(list))
	for i := range list {
		rows[i] = list[i].row
	}
	return rows, nil
}

var orders = map[string]func(a, b *Row) int{
	"": byNeed, "need": byNeed,
	"id":   func(a, b *Row) int { return 0 },
	"day":  func(a, b *Row) int { return cmp.Compare(a.SinceDay, b.SinceDay) },
	"pain": func(a, b *Row) int { return cmp.Compare(b.LastScore(), a.LastScore()) },
	"done": func(a, b *Row) int { return cmp.Compare(a.share(), b.share()) },
	"last": func(a, b *Row) int { return cmp.Compare(a.LastReport, b.LastReport) },
}

func byNeed(a, b *Row) int {
	since := func(r *Row) rules.Date {
		if r.StateSince == 0 || !r.Group.NeedsLook() {
			return 1 << 30
		}
		return r.StateSince
	}
	return cmp.Or(cmp.Compare(a.Group.place(), b.Group.place()), cmp.Compare(since(a), since(b)))
}

// share is how much of the last due dates was done; who had none comes last.
func (r *Row) share() float64 {
	if r.Due == 0 {
		return 2
	}
	return float64(r.DoneHalves) / float64(2*r.Due)
}

// row is the row of one patient.
func (v View) row(tx *journal.Tx, e *config.Enrollment) (Row, error) {
	p, err := tx.Person(e.ID)
	if err != nil {
		return Row{}, err
	}
	open, err := OpenAlerts(tx, v.Now)
	if err != nil {
		return Row{}, err
	}
	f := v.factsOf(tx, Facts{Enrollment: e, Person: p, Alerts: open[e.ID]})
	row := v.begin(f)
	return row, v.finish(tx, f, &row)
}
