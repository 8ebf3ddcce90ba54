package journal

import (
	"context"
	"errors"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"stepgate/rules"
)

// model is what a journal should say, kept the simplest way there is.
type model struct {
	people map[string]*Person
	rows   map[string]*Row
	seen   map[string]uint64 // channel/id
	opted  map[string]bool
	seq    uint64
	spent  map[string]int       // segments, by enrollment
	causes map[string]string    // told, and about whom
	about  map[uint64]string    // whom an alert is about
	hearer map[string]string    // who sent channel/id
	erased map[string]int       // how often
	alerts map[uint64]time.Time // when each is due
	done   map[uint64]bool      // acknowledged
	log    []string             // kind and id of every event
}

// expect applies an event to the model and tells whether the journal must
// take it.
func (m *model) expect(e Event) error {
	p, r := m.people[e.ID], m.rows[e.Key]
	if e.ID != "" && p == nil && e.Kind != Enrolled {
		return ErrInvalid
	}
	if err := m.byKind(e, p, r); err != nil {
		return err
	}
	p = m.people[e.ID]
	if e.State != nil {
		p.State = *e.State
	}
	if e.Due != nil && !p.Gone {
		p.Due = *e.Due
	}
	m.seq++
	m.log = append(m.log, logLine(m.seq, e.Kind, e.ID))
	return nil
}

// byKind applies what is special about the event's kind to the person and the
// row it speaks of.
func (m *model) byKind(e Event, p *Person, r *Row) error {
	seq := m.seq + 1
	switch e.Kind {
	case Enrolled:
		if p != nil && !p.Gone {
			return ErrInvalid
		}
		if p == nil {
			p = &Person{Since: e.At}
			m.people[e.ID] = p
		}
		p.Gone = false
	case Removed:
		if p.Gone {
			return ErrInvalid
		}
		p.Gone, p.Due = true, time.Time{}
	case Intended:
		if old := m.rows[e.Out.Key]; old != nil && (old.Status != TakenBack || old.Enrollment != e.ID) {
			return ErrKeyTaken
		}
		for _, a := range e.Out.Alerts {
			if _, there := m.alerts[a]; there && e.ID != "" && m.about[a] != e.ID {
				return ErrInvalid
			}
		}
		if e.Out.From != "" && p != nil && e.Out.Kind == "daily" {
			p.From = e.Out.From
		}
		for _, a := range e.Out.Alerts {
			if _, there := m.alerts[a]; there && !m.done[a] {
				m.alerts[a] = e.Out.Again
			}
		}
		m.rows[e.Out.Key] = &Row{Out: *e.Out, Enrollment: e.ID, Status: Pending, Seq: seq}
	case HandedOut:
		if r == nil || r.Enrollment != e.ID || r.Status != Pending || r.Next != nil && p.State.Rev != r.Rev {
			return ErrInvalid
		}
		r.Status, r.Tries = Handed, r.Tries+1
		m.spent[e.ID] += r.Segments
		if r.Next != nil {
			p.State, r.Next = *r.Next, nil
			if !p.Gone {
				p.Due = r.NextDue
			}
		}
	case Withdrawn:
		if r == nil || r.Enrollment != e.ID || r.Status != Pending {
			return ErrInvalid
		}
		r.Status = TakenBack
	case Settled:
		if r == nil || r.Enrollment != e.ID || !m.settles(r, e.Result) {
			return ErrInvalid
		}
	case Heard:
		key := e.In.Channel + "/" + e.In.ID
		if m.seen[key] != 0 {
			return ErrKeyTaken
		}
		m.seen[key], m.hearer[key] = seq, e.ID
	case Opted:
		m.opted[string(e.Contact)] = e.OptOut
	case Delivery:
		if r == nil || r.Enrollment != e.ID || r.Status != Sent || newsRank(e.Result.Status) <= newsRank(r.News) {
			return ErrInvalid
		}
		r.News = e.Result.Status
	case Rerouted:
		p.Dead = e.Contact
	case Alerted:
		if _, told := m.causes[e.Alert.Key]; told {
			return ErrKeyTaken
		}
		m.causes[e.Alert.Key] = e.ID
		m.alerts[seq], m.about[seq] = e.Alert.Due, e.ID
	case Acked:
		if _, there := m.alerts[e.Alerts[0]]; there {
			m.alerts[e.Alerts[0]], m.done[e.Alerts[0]] = time.Time{}, true
		}
	}
	return nil
}

func (m *model) settles(r *Row, res *Result) bool {
	final := res.Status == "sent" || res.Status == "rejected"
	switch {
	case (r.Status == Handed || r.Status == Unknown) && res.Status == "unknown":
		r.Status, r.NotBefore = Unknown, res.Retry
	case r.Status == Handed && (final || res.Status == "expired"),
		r.Status == Unknown && final, r.Status == Pending && res.Status == "expired":
		r.Status, r.NotBefore = Status(res.Status), time.Time{}
	case (r.Status == Handed || r.Status == Unknown) && res.Status == "retry":
		r.Status, r.NotBefore = Pending, res.Retry
	default:
		return false
	}
	return true
}

// drawEvent makes an event out of few enough names that they often meet.
func drawEvent(t *rapid.T) Event {
	ids := rapid.SampledFrom([]string{"p1", "p2", "p3", "p4"})
	anyID := rapid.SampledFrom([]string{"p1", "p2", "p3", "p4", ""})
	keys := rapid.SampledFrom([]string{"k1", "k2", "k3", "k4", "k5"})
	revs := rapid.IntRange(1, 2)
	times := rapid.Custom(func(t *rapid.T) time.Time {
		return day.Add(time.Duration(rapid.IntRange(-5, 50).Draw(t, "minutes")) * time.Minute)
	})
	e := Event{At: times.Draw(t, "at"), Kind: rapid.SampledFrom([]Kind{Enrolled, Enrolled, Revised, Removed, Decided, Skipped,
		Intended, Intended, HandedOut, HandedOut, Withdrawn, Settled, Settled, Heard, Opted, Delivery, Rerouted, Alerted, Acked, Noted}).Draw(t, "kind")}
	switch e.Kind {
	case Acked:
		e.Alerts = []uint64{rapid.Uint64Range(1, 40).Draw(t, "alert")}
		return e
	case Opted:
		e.Contact, e.OptOut = []byte(keys.Draw(t, "contact")), rapid.Bool().Draw(t, "out")
		return e
	case Intended, HandedOut, Withdrawn, Settled, Delivery, Alerted, Heard, Noted:
		e.ID = anyID.Draw(t, "id")
	default:
		e.ID = ids.Draw(t, "id")
	}
	switch e.Kind {
	case Intended:
		e.Out = &Out{Key: keys.Draw(t, "key"), Kind: "answer", Text: rapid.String().Draw(t, "text"), Made: e.At}
		if rapid.Bool().Draw(t, "mail") {
			e.Out.Alerts = []uint64{rapid.Uint64Range(1, 40).Draw(t, "alert")}
			e.Out.Again = rapid.OneOf(times, rapid.Just(time.Time{})).Draw(t, "again")
		}
		if rapid.Bool().Draw(t, "text") {
			e.Out.Channel, e.Out.From, e.Out.Rank = "sms", "+12025550100", rapid.SampledFrom([]int{0, 2, 255}).Draw(t, "rank")
			e.Out.Segments, e.Out.Kind = rapid.IntRange(0, 3).Draw(t, "segments"), rapid.SampledFrom([]string{"daily", "answer"}).Draw(t, "what")
		}
		if e.ID != "" && rapid.Bool().Draw(t, "daily") {
			e.Out.Rev, e.Out.NextDue = revs.Draw(t, "rev"), times.Draw(t, "next due")
			e.Out.Next = &rules.State{Rev: revs.Draw(t, "next rev"), P: 5}
		}
	case HandedOut, Withdrawn:
		e.Key = keys.Draw(t, "key")
	case Settled:
		e.Key = keys.Draw(t, "key")
		status := rapid.SampledFrom([]string{"sent", "retry", "rejected", "unknown", "expired"}).Draw(t, "status")
		e.Result = &Result{Status: status}
		if status == "retry" || status == "unknown" && rapid.Bool().Draw(t, "look") {
			e.Result.Retry = times.Draw(t, "retry")
		}
	case Delivery:
		e.Key = keys.Draw(t, "key")
		e.Result = &Result{Status: rapid.SampledFrom([]string{NoNews, Undelivered, Delivered, "queued"}).Draw(t, "news")}
	case Alerted:
		e.Alert = &Alert{Key: keys.Draw(t, "cause"), To: "clinician", Due: times.Draw(t, "alert due")}
	case Rerouted:
		e.Contact = rapid.SampledFrom([][]byte{nil, []byte("k1")}).Draw(t, "dead")
	case Heard:
		e.In = &In{Channel: "sms", ID: rapid.StringN(1, 2, -1).Draw(t, "incoming"), Text: rapid.String().Draw(t, "text")}
	}
	if e.ID != "" && (e.Kind == Enrolled || rapid.Bool().Draw(t, "state")) {
		e.State = &rules.State{Rev: revs.Draw(t, "state rev"), P: rapid.IntRange(0, 9).Draw(t, "p")}
	}
	if e.ID != "" && rapid.Bool().Draw(t, "due?") {
		due := rapid.OneOf(times, rapid.Just(time.Time{})).Draw(t, "due")
		e.Due = &due
	}
	return e
}

// compare checks everything the journal says against the model.
func (m *model) compare(t *rapid.T, tx *Tx) error {
	people, due := map[string]*Person{}, []string{}
	err := tx.People(func(id string, p *Person) error { people[id] = p; return nil })
	if jsonOf(t, people) != jsonOf(t, m.people) {
		t.Fatalf("people\n%s, want\n%s", jsonOf(t, people), jsonOf(t, m.people))
	}
	now := day.Add(20 * time.Minute)
	rows, dueErr := tx.DueBy(now, 0)
	for _, r := range rows {
		due = append(due, r.ID)
	}
	ids := slices.SortedFunc(maps.Keys(m.people), func(a, b string) int {
		return 2*m.people[a].Due.Compare(m.people[b].Due) + map[bool]int{true: -1, false: 1}[a < b]
	})
	ids = slices.DeleteFunc(ids, func(id string) bool { return m.people[id].Due.IsZero() || m.people[id].Due.After(now) })
	if !slices.Equal(due, ids) && len(due)+len(ids) > 0 {
		t.Fatalf("due %v, want %v", due, ids)
	}
	var waiting []Row
	var waitErr error
	for _, lane := range tx.Lanes() {
		rows, err := tx.Waiting(lane, now, 0)
		waiting, waitErr = append(waiting, rows...), errors.Join(waitErr, err)
	}
	looks, lookErr := tx.LookUps(now, 0)
	watched, watchErr := tx.Watched(now.Add(time.Hour), 0)
	handed, handErr := tx.HandedRows()
	n, h, l, w := 0, 0, 0, 0
	for key, want := range m.rows {
		got, err := tx.Row(key)
		if err != nil || got == nil || got.Status != want.Status || got.Tries != want.Tries || got.Seq != want.Seq ||
			!got.NotBefore.Equal(want.NotBefore) || got.Enrollment != want.Enrollment || got.News != want.News {
			t.Fatalf("row %+v, %v, want %+v", got, err, want)
		}
		if want.Status == Pending && !want.NotBefore.After(now) {
			n++
		}
		if want.Status == Handed {
			h++
		}
		if want.Status == Unknown && !want.NotBefore.IsZero() && !want.NotBefore.After(now) {
			l++
		}
		if want.Status == Sent && want.From != "" && want.News == "" {
			w++
		}
	}
	if len(waiting) != n || len(handed) != h || len(looks) != l || len(watched) != w {
		t.Fatalf("%d waiting, %d handed, %d to look up, %d watched, want %d, %d, %d and %d",
			len(waiting), len(handed), len(looks), len(watched), n, h, l, w)
	}
	alerts, alertErr := tx.AlertsDue(now, 0)
	a := 0
	for _, due := range m.alerts {
		if !due.IsZero() && !due.After(now) {
			a++
		}
	}
	if alertErr != nil || len(alerts) != a {
		t.Fatalf("%d alerts due, want %d; %v", len(alerts), a, alertErr)
	}
	spent := 0
	for _, n := range m.spent {
		spent += n
	}
	if got := tx.Spent("+12025550100", day.Add(-24*time.Hour)); got != spent {
		t.Fatalf("%d segments spent, want %d", got, spent)
	}
	m.compareErased(t, tx)
	for key, seq := range m.seen {
		if got, _ := tx.Seen("sms", key[len("sms/"):]); got != seq {
			t.Fatalf("seen %q in %d, want %d", key, got, seq)
		}
	}
	for contact, out := range m.opted {
		if tx.OptedOut([]byte(contact)) != out {
			t.Fatalf("%s opted out: %v, want %v", contact, !out, out)
		}
	}
	var log []string
	allErr := tx.All(func(e Event) error { log = append(log, logLine(e.Seq, e.Kind, e.ID)); return nil })
	if !slices.Equal(log, m.log) || tx.LastSeq() != m.seq {
		t.Fatalf("events %v, want %v", log, m.log)
	}
	return errors.Join(err, dueErr, waitErr, handErr, lookErr, watchErr, allErr)
}

func jsonOf(t *rapid.T, v any) string {
	b, err := toJSON(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// Random events, erasures, failing updates and reopens: the journal says what the model
// says, and a replay gives what is stored, byte for byte (Verify).
func TestModel(t *testing.T) {
	dir := t.TempDir()
	rapid.Check(t, func(t *rapid.T) {
		sub, err := os.MkdirTemp(dir, "")
		if err != nil {
			t.Fatal(err)
		}
		path := filepath.Join(sub, "journal.db")
		reopen := func() *Journal {
			j, err := Open(path, Options{NoSync: true})
			if err != nil {
				t.Fatal(err)
			}
			return j
		}
		j := reopen()
		defer func() { _ = j.Close() }()
		m := newModel()
		t.Repeat(map[string]func(*rapid.T){
			"append": func(t *rapid.T) {
				e := drawEvent(t)
				want := m.expect(e)
				if err := add(j, e); !errors.Is(err, want) || (err == nil) != (want == nil) {
					t.Fatalf("append %+v: %v, want %v", e, err, want)
				}
			},
			"undone": func(t *rapid.T) {
				e, boom := drawEvent(t), errors.New("boom")
				err := j.Update(context.Background(), func(tx *Tx) error { _, _ = tx.Append(e); return boom })
				if !errors.Is(err, boom) {
					t.Fatalf("got %v", err)
				}
			},
			"reopen": func(t *rapid.T) {
				if err := j.Close(); err != nil {
					t.Fatal(err)
				}
				if rapid.Bool().Draw(t, "compact") {
					if _, _, err := Compact(path); err != nil {
						t.Fatal(err)
					}
				}
				j = reopen()
			},
			"erase": func(t *rapid.T) {
				id := rapid.SampledFrom([]string{"p1", "p2", "p3", "p4"}).Draw(t, "whom")
				want := m.erase(id)
				err := j.Update(context.Background(), func(tx *Tx) error { return tx.Erase(id, day, "admin", "") })
				if !errors.Is(err, want) || (err == nil) != (want == nil) {
					t.Fatalf("erase %s: %v, want %v", id, err, want)
				}
			},
			"": func(t *rapid.T) {
				if err := j.View(func(tx *Tx) error { return m.compare(t, tx) }); err != nil {
					t.Fatal(err)
				}
			},
		})
		erasures := 0
		for _, n := range m.erased {
			erasures += n
		}
		for range 2 {
			boltCheck(t, j)
			if err := j.View(func(tx *Tx) error { return erasuresAre(t, tx, erasures) }); err != nil {
				t.Fatal(err)
			}
			if rep, err := j.Verify(); err != nil || rep.Events != int(m.seq) {
				t.Fatalf("verify: %+v, %v", rep, err)
			}
			if err := j.Rebuild(); err != nil {
				t.Fatal(err)
			}
		}
	})
}
