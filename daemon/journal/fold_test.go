package journal

import (
	"errors"
	"fmt"
	"io/fs"
	"reflect"
	"strings"
	"testing"
	"time"

	"stepgate/rules"
)

func dueBy(t testing.TB, j *Journal, now time.Time, limit int) (s string) {
	t.Helper()
	view(t, j, func(tx *Tx) error {
		rows, err := tx.DueBy(now, limit)
		for _, r := range rows {
			s += fmt.Sprintf("%s@%d ", r.ID, r.At.Sub(day)/time.Second)
		}
		return err
	})
	return strings.TrimSpace(s)
}

func TestDue(t *testing.T) {
	j := openNew(t)
	sec := func(n float64) time.Time { return day.Add(time.Duration(n * float64(time.Second))) }
	ptr := func(at time.Time) *time.Time { return &at }
	never := time.Time{}
	mustAdd(t, j, enroll("c", sec(3)), enroll("b", sec(1)), enroll("a", sec(3)), enroll("d", never))
	for _, c := range []struct {
		e     *Event
		now   float64
		limit int
		want  string
	}{
		{nil, 0, 0, ""},
		{nil, 1, 0, "b@1"},
		{nil, 2.999, 0, "b@1"},
		{nil, 9, 0, "b@1 a@3 c@3"},
		{nil, 9, 2, "b@1 a@3"},
		{&Event{Kind: Skipped, ID: "b", Due: ptr(sec(5))}, 9, 0, "a@3 c@3 b@5"},
		{&Event{Kind: Noted, ID: "a"}, 3, 0, "a@3 c@3"},                            // nil leaves it
		{&Event{Kind: Decided, ID: "a", Due: &never}, 9, 0, "c@3 b@5"},             // zero ends it
		{&Event{Kind: Revised, ID: "a", Due: ptr(sec(4.5))}, 4.9, 0, "c@3"},        // never early
		{nil, 5, 0, "c@3 a@5 b@5"},                                                 //
		{&Event{Kind: Removed, ID: "c", Due: ptr(sec(1))}, 9, 0, "a@5 b@5"},        // the gone are not due
		{&Event{Kind: Revised, ID: "c", Due: ptr(sec(1))}, 9, 0, "a@5 b@5"},        //
		{&Event{Kind: Noted, ID: "a", Due: ptr(sec(-1)), Note: "x"}, 0, 0, "a@-1"}, // any kind may carry it
	} {
		if c.e != nil {
			mustAdd(t, j, *c.e)
		}
		if got := dueBy(t, j, sec(c.now), c.limit); got != c.want {
			t.Errorf("after %+v, due by %v: %q, want %q", c.e, c.now, got, c.want)
		}
	}
	if got := dueBy(t, j, time.Unix(-5, 0), 0); got != "" {
		t.Errorf("due before 1970: %q", got)
	}
	for _, at := range []time.Time{time.Unix(-5, 0), day.AddDate(400, 0, 0)} {
		if err := add(j, Event{Kind: Skipped, ID: "b", Due: &at}); !errors.Is(err, ErrInvalid) {
			t.Errorf("due at %v: %v", at, err)
		}
	}
}

func TestPeople(t *testing.T) {
	j := openNew(t)
	mustAdd(t, j, enroll("p2", day), enroll("p1", day.Add(time.Hour)))
	mustAdd(t, j, Event{Kind: Removed, ID: "p1"})
	gone := Event{Kind: Heard, ID: "p1", In: &In{Channel: "spool", ID: "1"}, State: &rules.State{Rev: 7}}
	mustAdd(t, j, gone) // replies of whoever is gone are kept
	list := func() (s string) {
		view(t, j, func(tx *Tx) error {
			return tx.People(func(id string, p *Person) error {
				s += fmt.Sprintf("%s rev %d gone %v due %v since %v; ", id, p.State.Rev, p.Gone, !p.Due.IsZero(), p.Since.Equal(day))
				return nil
			})
		})
		return s
	}
	if got, want := list(), "p1 rev 7 gone true due false since true; p2 rev 1 gone false due true since true; "; got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	again := enroll("p1", day)
	again.At = day.AddDate(0, 1, 0)
	mustAdd(t, j, again)
	if got, want := list(), "p1 rev 1 gone false due true since true; p2 rev 1 gone false due true since true; "; got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	stop := errors.New("stop")
	calls := 0
	err := j.View(func(tx *Tx) error {
		return tx.People(func(string, *Person) error { calls++; return stop })
	})
	if !errors.Is(err, stop) || calls != 1 {
		t.Errorf("after %d calls: %v", calls, err)
	}
}

func TestRefusals(t *testing.T) {
	j := openNew(t)
	state := &rules.State{Rev: 1}
	in := &In{Channel: "sms", ID: "SM1"}
	mustAdd(t, j, enroll("p1", day), enroll("gone", day), Event{Kind: Removed, ID: "gone"},
		Event{Kind: Heard, In: in})
	before := lastSeq(t, j)
	for _, c := range []struct {
		name string
		e    Event
		want error
	}{
		{"unknown kind", Event{Kind: "sung", ID: "p1"}, ErrInvalid},
		{"time out of range", Event{Kind: Noted, At: time.Unix(-1, 0)}, ErrInvalid},
		{"bad id", Event{Kind: Enrolled, ID: "a\x00b", State: state}, ErrInvalid},
		{"id not UTF-8", Event{Kind: Enrolled, ID: "a\xff", State: state}, ErrInvalid},
		{"endless id", Event{Kind: Enrolled, ID: strings.Repeat("a", maxKey+1), State: state}, ErrInvalid},
		{"enrolled twice", Event{Kind: Enrolled, ID: "p1", State: state}, ErrInvalid},
		{"no state", Event{Kind: Enrolled, ID: "p2"}, ErrInvalid},
		{"nobody", Event{Kind: Noted, ID: "p2"}, ErrInvalid},
		{"gone twice", Event{Kind: Removed, ID: "gone"}, ErrInvalid},
		{"state of the clinic", Event{Kind: Noted, State: state}, ErrInvalid},
		{"clinic due", Event{Kind: Noted, Due: &day}, ErrInvalid},
		{"clinic enrolled", Event{Kind: Enrolled, State: state}, ErrInvalid},
		{"clinic decided", Event{Kind: Decided}, ErrInvalid},
		{"heard before", Event{Kind: Heard, ID: "p1", In: in}, ErrKeyTaken},
		{"heard nothing", Event{Kind: Heard, ID: "p1"}, ErrInvalid},
		{"heard without id", Event{Kind: Heard, ID: "p1", In: &In{Channel: "sms"}}, ErrInvalid},
		{"opted of a person", Event{Kind: Opted, ID: "p1", Contact: []byte("x"), OptOut: true}, ErrInvalid},
		{"opted nobody", Event{Kind: Opted, OptOut: true}, ErrInvalid},
		{"accepted of a person", Event{Kind: Accepted, ID: "p1"}, ErrInvalid},
		{"accepted nothing", Event{Kind: Accepted}, ErrInvalid},
		{"accepted an unkept file", Event{Kind: Accepted, Files: []FileRef{{Path: "a", Hash: strings.Repeat("0", 64)}}}, ErrInvalid},
		{"unwritable time", Event{Kind: Heard, In: &In{Channel: "sms", ID: "2", Came: day.AddDate(9000, 0, 0)}}, ErrInvalid},
	} {
		if err := add(j, c.e); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", c.name, err, c.want)
		}
	}
	err := j.Update(t.Context(), func(tx *Tx) error { return firstErr(tx.Append(Event{Kind: Noted})) })
	if !errors.Is(err, ErrInvalid) {
		t.Errorf("event without a time: %v", err)
	}
	if got := lastSeq(t, j); got != before {
		t.Errorf("refused events were written: %d, was %d", got, before)
	}
}

func TestSeenAndOptOut(t *testing.T) {
	j := openNew(t)
	hash := []byte("a keyed hash of some contact....")
	long := strings.Repeat("x", 40000) // longer than any key of the database may be
	mustAdd(t, j, Event{Kind: Heard, In: &In{Channel: "sms", ID: "SM1"}}, Event{Kind: Heard, In: &In{Channel: "email", ID: long}},
		Event{Kind: Opted, Contact: hash, OptOut: true})
	view(t, j, func(tx *Tx) error {
		for _, c := range []struct {
			channel, id string
			seq         uint64
		}{{"sms", "SM1", 1}, {"email", long, 2}, {"email", "SM1", 0}, {"sm", "sSM1", 0}} {
			if seq, ok := tx.Seen(c.channel, c.id); seq != c.seq || ok != (c.seq > 0) {
				t.Errorf("seen %s: %d, %v; want %d", c.channel, seq, ok, c.seq)
			}
		}
		if !tx.OptedOut(hash) || tx.OptedOut(hash[1:]) {
			t.Error("opt-out is wrong")
		}
		return nil
	})
	mustAdd(t, j, Event{Kind: Opted, Contact: hash})
	view(t, j, func(tx *Tx) error {
		if tx.OptedOut(hash) {
			t.Error("opt-in did not end the opt-out")
		}
		return nil
	})
}

func TestFiles(t *testing.T) {
	j := openNew(t)
	accept := func(at time.Time, files ...string) (refs []FileRef) {
		err := j.Update(t.Context(), func(tx *Tx) error {
			refs = nil
			for i, data := range files {
				hash, err := tx.PutFile([]byte(data))
				if err != nil {
					return err
				}
				refs = append(refs, FileRef{Path: fmt.Sprintf("%d.yaml", i), Hash: hash})
			}
			return firstErr(tx.Append(Event{Kind: Accepted, At: at, Files: refs}))
		})
		if err != nil {
			t.Fatal(err)
		}
		return refs
	}
	view(t, j, func(tx *Tx) error {
		if refs, at, err := tx.LastAccepted(); refs != nil || !at.IsZero() || err != nil {
			t.Errorf("accepted before anything was: %v, %v, %v", refs, at, err)
		}
		return nil
	})
	accept(day, "a", "b")
	want := accept(day.Add(time.Hour), "a", "")
	view(t, j, func(tx *Tx) error {
		refs, at, err := tx.LastAccepted()
		if err != nil || !reflect.DeepEqual(refs, want) || !at.Equal(day.Add(time.Hour)) {
			t.Errorf("accepted %v at %v, %v", refs, at, err)
		}
		for i, data := range []string{"a", ""} {
			if got, err := tx.File(refs[i].Hash); err != nil || string(got) != data {
				t.Errorf("file %d: %q, %v", i, got, err)
			}
		}
		if _, err := tx.File(strings.Repeat("0", 64)); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("file that is not there: %v", err)
		}
		if _, err := tx.File("zz"); err == nil {
			t.Error("a hash that is none gave a file")
		}
		return nil
	})
	if rep := checkWhole(t, j); rep.Files != 3 {
		t.Errorf("report %+v, want 3 files", rep)
	}
}

// What goes in comes out, in order, subject by subject; times in UTC.
func TestEvents(t *testing.T) {
	j := openNew(t)
	zone := time.FixedZone("", -4*3600)
	score := 5
	heard := Event{Kind: Heard, ID: "p1", At: day.In(zone), State: &rules.State{Rev: 2}, In: &In{
		Channel: "sms", ID: "SM1", From: "+12025550142", Text: "P5 <ouch> & \u2028", Came: day.In(zone), Day: 7,
		Reading: rules.Reading{Pain: &score}, Hearing: &rules.Hearing{Parts: []rules.Part{rules.SayHold}, Score: &score}}}
	mustAdd(t, j, enroll("p1", day), enroll("p2", day), Event{Kind: Noted, Note: "clinic"}, heard, daily("p2", "k"))
	collect := func(read func(*Tx, func(Event) error) error) (list []Event) {
		view(t, j, func(tx *Tx) error {
			return read(tx, func(e Event) error { list = append(list, e); return nil })
		})
		return list
	}
	of := func(id string) []Event {
		return collect(func(tx *Tx, fn func(Event) error) error { return tx.Events(id, fn) })
	}
	all := collect((*Tx).All)
	p1, p2, clinic := of("p1"), of("p2"), of("")
	if want := []Event{p1[0], p2[0], clinic[0], p1[1], p2[1]}; !reflect.DeepEqual(all, want) {
		t.Errorf("all events\n%+v\nsubject by subject\n%+v", all, want)
	}
	for i, e := range all {
		if e.Seq != uint64(i+1) || !e.At.Equal(day) {
			t.Errorf("event %d has number %d at %v", i+1, e.Seq, e.At)
		}
	}
	heard.Seq, heard.Engine, heard.At, heard.In.Came = 4, rules.Engine, day, day
	if !reflect.DeepEqual(p1[1], heard) {
		t.Errorf("got  %+v\nwant %+v", p1[1], heard)
	}
	if got := of("nobody"); got != nil {
		t.Errorf("events of nobody: %v", got)
	}
	stop := errors.New("stop")
	for name, read := range map[string]func(*Tx) error{
		"all":    func(tx *Tx) error { return tx.All(func(Event) error { return stop }) },
		"events": func(tx *Tx) error { return tx.Events("p1", func(Event) error { return stop }) },
	} {
		if err := j.View(read); !errors.Is(err, stop) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// The forms that the fold reads and writes are those that callers see.
func TestSameJSON(t *testing.T) {
	state := rules.State{Rev: 3, P: 2}
	raw, err := toJSON(state)
	if err != nil {
		t.Fatal(err)
	}
	out := *daily("p1", "k").Out
	inner := out
	inner.Decision, inner.Next = nil, nil
	dec, err := toJSON(out.Decision)
	if err != nil {
		t.Fatal(err)
	}
	next, err := toJSON(out.Next)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ a, b any }{
		{Person{State: state, Due: day, Gone: true, Since: day}, person{State: raw, Due: day, Gone: true, Since: day}},
	} {
		a, errA := toJSON(c.a)
		b, errB := toJSON(c.b)
		if errA != nil || errB != nil || string(a) != string(b) {
			t.Errorf("\n%s %v\n%s %v", a, errA, b, errB)
		}
	}
	b, err := toJSON(rawOut{Out: inner, Decision: dec, Next: next})
	if err != nil {
		t.Fatal(err)
	}
	body, err := parseBody([]byte(`{"out":` + string(b) + `}`))
	if err != nil || !reflect.DeepEqual(body.Out.Out, inner) || string(body.Out.Next) != string(next) || string(body.Out.Decision) != string(dec) {
		t.Errorf("raw out is not read as written: %+v, %v", body.Out, err)
	}
}

// What another version of the rules wrote is kept as it was written, so that
// a replay gives the same bytes whatever fields the rules have by then.
func TestForeignState(t *testing.T) {
	j := openNew(t)
	mustAdd(t, j, enroll("p1", day), daily("p1", "k"))
	const state = `{"rev":1,"of_a_later_version":[1.50,"<&>"]}`
	plan := func(kind Kind, payload string) (ops []op) {
		view(t, j, func(tx *Tx) error {
			b, err := parseBody([]byte(payload))
			if err != nil {
				return err
			}
			ops, err = tx.c.plan(&entry{seq: 3, at: day, kind: kind, id: "p1", body: b})
			return err
		})
		return ops
	}
	for in, ops := range map[bucketID][]op{
		inPeople: plan(Revised, `{"state":`+state+`}`),
	} {
		found := false
		for _, o := range ops {
			found = found || o.in == in && strings.Contains(string(o.value), state)
		}
		if !found {
			t.Errorf("%s does not keep the state as written", bucketNames[in])
		}
	}
	l, err := readIntent([]byte(`{"out":{"key":"other","next":` + state + `}}`))
	if err != nil || string(l.Out.Next) != state {
		t.Errorf("a letter does not keep the state as written: %+v, %v", l, err)
	}
}
