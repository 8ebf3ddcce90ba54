package daemon

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"stepgate/daemon/journal"
	"stepgate/notify"
	"stepgate/rules"
)

// TestWhateverHappens plays random stories and checks what must always hold.
// A story is its seed's: the same every time.
//
// STEPGATE_STORIES is how many stories are lived (8), STEPGATE_SEED the seed of
// the first (0).
func TestWhateverHappens(t *testing.T) {
	stories, first := fromEnv(t, "STEPGATE_STORIES", 8), fromEnv(t, "STEPGATE_SEED", 0)
	t.Logf("STEPGATE_STORIES=%d STEPGATE_SEED=%d", stories, first)
	messages := 0
	for seed := first; seed < first+stories; seed++ {
		t.Run(fmt.Sprintf("seed %d", seed), func(t *testing.T) {
			m := newStory(t, seed)
			for range 25 {
				m.round()
			}
			messages += m.end()
		})
	}
	if messages < 10*int(stories) {
		t.Errorf("%d messages in all: the stories show too little", messages)
	}
	t.Logf("%d stories of 25 rounds, %d messages that arrived, none twice and none that might not", stories, messages)
}

func fromEnv(t *testing.T, name string, otherwise uint64) uint64 {
	t.Helper()
	s := os.Getenv(name)
	if s == "" {
		return otherwise
	}
	n, err := strconv.ParseUint(s, 10, 32)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

type story struct {
	*clinic
	r     *rand.Rand
	out   []*enrolled // taken out of the files
	heard []notify.Incoming
	ids   map[string]bool
}

func newStory(t *testing.T, seed uint64) *story {
	t.Helper()
	c := loneClinic(t, onSMS("p-01", phone1), onSpool("p-02"), onSpool("p-03"))
	m := &story{clinic: c, r: rand.New(rand.NewPCG(seed, 0)), ids: map[string]bool{}}
	c.sms.inside = func(_ context.Context, msg notify.Message) { m.mayArrive(msg) }
	c.channels["spool"] = Channel{Sender: watched{c.spool, m}, Receive: c.spool}
	return m
}

// watched sees what goes out on the spool.
type watched struct {
	notify.Sender
	m *story
}

func (w watched) Send(ctx context.Context, msg notify.Message) notify.Result {
	w.m.mayArrive(msg)
	return w.Sender.Send(ctx, msg)
}

// mayArrive checks a message at the moment of its hand-over.
func (m *story) mayArrive(msg notify.Message) {
	m.t.Helper()
	parts := strings.Split(msg.Key, "/")
	if parts[0] != "day" {
		return
	}
	id, now := parts[1], m.clock.Now()
	var e *enrolled
	for _, p := range m.patients {
		if p.id == id {
			e = p
		}
	}
	if e == nil {
		m.t.Errorf("%s: a message to a patient gone from the files", msg.Key)
		return
	}
	zone := m.zone
	if e.zone != "" {
		var err error
		if zone, err = time.LoadLocation(e.zone); err != nil {
			m.t.Fatal(err)
		}
	}
	local := now.In(zone)
	if h := local.Hour(); h < 8 || h >= 21 {
		m.t.Errorf("%s: handed over at %s", msg.Key, local)
	}
	if today := local.Format("Mon Jan 2"); !strings.HasPrefix(msg.Text, today) || parts[2] != rules.DateOf(local).String() {
		m.t.Errorf("%s: handed over on %s", msg.Key, today)
	}
	st, optedOut := m.state(id), false
	m.view(func(tx *journal.Tx) error { optedOut = tx.OptedOut(tx.ContactHash(msg.To)); return nil })
	switch shown := st.Shown(rules.DateOf(local), optedOut); shown {
	case rules.InDischarged, rules.InOptedOut, rules.InSuspended, rules.InPaused, rules.InAway:
		m.t.Errorf("%s: a message to a patient who is %s", msg.Key, shown)
	}
}

func pick[T any](r *rand.Rand, of ...T) T { return of[r.IntN(len(of))] }

func (m *story) someone() *enrolled { return pick(m.r, m.patients...) }

// round is about a day: time passes, the day is decided, things happen, and
// what is still to be sent is sent.
func (m *story) round() {
	m.t.Helper()
	for range 1 + m.r.IntN(3) {
		now := m.clock.Now()
		switch m.r.IntN(6) {
		case 0, 1, 2: // the next morning in New York
			y, mo, d := now.In(m.zone).Date()
			m.set.Set(time.Date(y, mo, d+1, 9, m.r.IntN(60), 0, 0, m.zone))
		case 3:
			m.set.Set(now.Add(pick(m.r, time.Minute, time.Hour, 5*time.Hour, 13*time.Hour)))
		case 4: // soon after a message was refused for now
			m.set.Set(now.Add(20 * time.Minute))
		case 5:
			m.set.Set(now.Add(pick(m.r, 20*time.Minute, 50*time.Hour, -time.Hour, -25*time.Hour)))
		}
		if m.r.IntN(2) == 0 {
			m.happens()
		}
		m.decide()
		for range m.r.IntN(4) {
			m.happens()
		}
		m.send()
	}
}

// happens is one thing that happens.
func (m *story) happens() {
	m.t.Helper()
	switch m.r.IntN(14) {
	case 0, 1, 2:
		m.says()
	case 3:
		if len(m.heard) > 0 { // delivered again
			m.take("sms", pick(m.r, m.heard...))
		}
	case 4, 5:
		m.sms.next(pick(m.r, busy, busy, busy, refuses, noSuch, optedOff, cutOff, cutAfter, cutAfter))
	case 6:
		m.restart()
	case 7:
		m.deathSomewhere()
	case 8:
		m.editFiles()
	case 9:
		m.news()
	case 10:
		m.lookUp()
	default:
		m.writes()
	}
}

// writes is an entry of the clinician's.
func (m *story) writes() {
	m.t.Helper()
	p, today := m.someone(), rules.DateOf(m.clock.Now().In(m.zone))
	if m.r.IntN(8) == 0 {
		m.enter(p.id, fmt.Sprintf("hold: %s", today))
		return
	}
	if m.r.IntN(4) == 0 {
		said := pick(m.r, "D", "D P1", "P2", "P5", "P8", "his chest pain came back", "STOP", "START", "xyzzy")
		m.enter(p.id, fmt.Sprintf("report: %s, said: %s", today, said))
		return
	}
	m.enter(p.id, fmt.Sprintf("release: %s, why: seen %d", today, m.r.Int()))
	m.enter(p.id, fmt.Sprintf("confirm contact: %s, why: asked %d", today, m.r.Int()))
}

// news is what the carrier says of some message, early, late or again.
func (m *story) news() {
	m.t.Helper()
	all := m.sms.all()
	if len(all) == 0 {
		return
	}
	n := pick(m.r, arrived, arrived, arrived, missed, missed, noPhone, notify.News{Code: "21610", OptedOut: true}, notify.News{Code: "30034", Trouble: true})
	n.ID = fmt.Sprintf("OK%d", 1+m.r.IntN(len(all)))
	for range 1 + m.r.IntN(2) {
		if err := m.s.Tell("sms")(context.Background(), n); err != nil {
			m.t.Fatal(err)
		}
	}
}

func (m *story) says() {
	m.t.Helper()
	p := m.someone()
	text := pick(m.r, "D", "D P1", "P2", "P3", "P5", "P7", "H", "xyzzy", "W 1", "N", "START", "START")
	if m.r.IntN(6) == 0 {
		text = pick(m.r, "P9", "B", "A 2", "STOP", "my foot is numb", "wrong number")
	}
	in := notify.Incoming{ID: fmt.Sprintf("IN%03d", len(m.heard)), From: p.to, Text: text}
	if p.channel == "spool" {
		m.drop(p.to, "", text+"\n")
		return
	}
	m.heard = append(m.heard, in)
	m.ids[in.ID] = true
	m.take("sms", in)
}

// deathSomewhere kills the process in the next hand-over on a channel, if one
// comes, or else at once.
func (m *story) deathSomewhere() {
	m.t.Helper()
	m.decide()
	m.diesIn(pick(m.r, "sms", "spool"), m.r.IntN(2) == 0)
	if err := m.s.SendWaiting(context.Background()); err != nil && !errors.Is(err, journal.ErrClosed) {
		m.t.Fatal(err)
	}
	m.revive()
	m.die()
	m.start()
}

func (m *story) editFiles() {
	m.t.Helper()
	switch m.r.IntN(4) {
	case 0:
		if len(m.out) > 0 {
			m.patients, m.out = append(m.patients, m.out...), nil
		} else if p := m.patients[len(m.patients)-1]; p.channel == "spool" {
			m.patients, m.out = m.patients[:len(m.patients)-1], []*enrolled{p}
		}
	case 1:
		m.someone().zone = pick(m.r, newYork, "Asia/Tokyo", "Pacific/Honolulu", "Europe/London")
	case 2:
		m.someone().time = pick(m.r, "08:00", "09:00", "14:30", "20:59")
	case 3:
		m.writeFile("programs/steady.yaml", "nonsense")
		if err := m.s.Reload(context.Background(), m.load); err == nil {
			m.t.Error("nonsense was accepted")
		}
	}
	m.mustReload()
}

// end checks what is on the phones, and what the journal has heard. It counts
// the daily messages.
func (m *story) end() int {
	m.t.Helper()
	m.restart()
	m.tick()
	m.patients = append(m.patients, m.out...)
	messages := 0
	for _, p := range m.patients {
		days := map[string]bool{}
		for _, d := range m.daily(p.id) {
			if days[d] {
				m.t.Errorf("%s got two messages on %s", p.id, d)
			}
			days[d] = true
		}
		messages += len(days)
		last := rules.Date(0)
		for _, d := range m.finals(p.id) {
			if d <= last {
				m.t.Errorf("%s: %s was decided for good after %s", p.id, d, last)
			}
			last = d
		}
	}
	texts := 0
	m.view(func(tx *journal.Tx) error {
		return tx.All(func(e journal.Event) error {
			if e.Kind == journal.Heard && e.In.Channel == "sms" {
				texts++
			}
			return nil
		})
	})
	if texts != len(m.ids) {
		m.t.Errorf("%d texts came in, %d were heard", len(m.ids), texts)
	}
	return messages
}

// finals are the dates that were decided for good: nothing to send, or the
// first hand-over of their message.
func (m *story) finals(id string) []rules.Date {
	m.t.Helper()
	var dates []rules.Date
	tried := map[string]bool{}
	m.view(func(tx *journal.Tx) error {
		return tx.Events(id, func(e journal.Event) error {
			key, day := strings.CutPrefix(e.Key, "day/"+id+"/")
			switch {
			case e.Kind == journal.Decided:
				dates = append(dates, e.Decision.Date)
			case e.Kind == journal.HandedOut && day && !tried[key]:
				tried[key] = true
				dates = append(dates, m.date(key))
			}
			return nil
		})
	})
	return dates
}
