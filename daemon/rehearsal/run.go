package rehearsal

import (
	"cmp"
	"context"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"time"

	"stepgate/config"
	"stepgate/daemon"
	"stepgate/daemon/journal"
	"stepgate/notify"
	"stepgate/rules"
	"stepgate/templates"
)

// Run plays a plan and gives what came of each date, in order.
func Run(ctx context.Context, words *templates.Set, p *Plan) (days []Day, err error) {
	dir, err := os.MkdirTemp("", "stepgate-rehearsal-")
	if err != nil {
		return nil, fmt.Errorf("make a folder for the rehearsal: %w", err)
	}
	defer func() {
		if e := os.RemoveAll(dir); e != nil && err == nil {
			days, err = nil, fmt.Errorf("remove the rehearsal's folder: %w", e)
		}
	}()
	s, err := openStage(words, p, filepath.Join(dir, "journal.db"))
	if err != nil {
		return nil, err
	}
	defer func() { _ = s.journal.Close() }()
	if err := s.service.Accept(ctx, alone(p.Clinic, p.Enrollment)); err != nil {
		return nil, err
	}
	for n := 1; n <= p.Days; n++ {
		if err := s.live(ctx, n); err != nil {
			return nil, fmt.Errorf("rehearse day %d: %w", n, err)
		}
	}
	return s.gather()
}

// stage is a rehearsal being played.
type stage struct {
	plan    *Plan
	words   *templates.Set
	journal *journal.Journal
	service *daemon.Service
	clock   *daemon.SetClock
	channel *channel
	entries []rules.Entry // written so far, the enrollment's own first
	replies map[int][]config.Reply
	count   int           // replies put in so far, for their ids
	after   []rules.State // at the end of each date
}

func openStage(words *templates.Set, p *Plan, path string) (*stage, error) {
	// A made-up journal need not outlive a power cut, so it is not synced.
	j, err := journal.Open(path, journal.Options{NoSync: true})
	if err != nil {
		return nil, err
	}
	s := &stage{plan: p, words: words, journal: j, clock: &daemon.SetClock{}, channel: &channel{},
		entries: slices.Clone(p.Enrollment.Entries), replies: map[int][]config.Reply{}}
	for _, r := range p.Replies {
		s.replies[r.Day] = append(s.replies[r.Day], r)
	}
	// The clinic's files come into force as the first date begins, so that
	// whatever that date brings comes after.
	s.clock.Set(daemon.LocalInstant(p.First, 0, p.Enrollment.Zone))
	s.service, err = daemon.NewService(daemon.Options{
		Journal: j, Words: words, Log: slog.New(slog.DiscardHandler), Clock: s.clock, Made: true,
		Channels: map[string]daemon.Channel{channelName: {Sender: s.channel, Receive: s.channel}},
	})
	if err != nil {
		_ = j.Close()
		return nil, err
	}
	return s, nil
}

// moment is a time of a day on which something happens: the message is due,
// or a reply comes in.
type moment struct {
	at    time.Time
	reply *config.Reply
}

// moments are those of the n-th date, in order of time. What has no time comes
// just after the message; what has the message's own minute too.
func moments(p *Plan, n int, replies []config.Reply) []moment {
	e, d := p.Enrollment, p.date(n)
	due := daemon.LocalInstant(d, e.Time, e.Zone)
	list := []moment{{at: due}}
	for i := range replies {
		at := due.Add(time.Minute)
		if t := replies[i].Time; t != nil {
			at = daemon.LocalInstant(d, *t, e.Zone)
		}
		list = append(list, moment{at, &replies[i]})
	}
	slices.SortStableFunc(list, func(a, b moment) int { return a.at.Compare(b.at) })
	return list
}

// live lives the n-th date.
func (s *stage) live(ctx context.Context, n int) error {
	for _, m := range moments(s.plan, n, s.replies[n]) {
		s.clock.Set(m.at)
		if err := s.take(ctx, m.reply); err != nil {
			return err
		}
		// What the running service does at a tick.
		s.service.Collect(ctx)
		if err := s.service.Tick(ctx); err != nil {
			return err
		}
		if err := s.service.SendWaiting(ctx); err != nil {
			return err
		}
	}
	return s.journal.View(func(tx *journal.Tx) error {
		person, err := tx.Person(s.plan.Enrollment.ID)
		if err == nil && person != nil {
			s.after = append(s.after, person.State)
		}
		return err
	})
}

// take puts a reply into the channel, or a clinician's entry into the files.
func (s *stage) take(ctx context.Context, r *config.Reply) error {
	switch {
	case r == nil:
		return nil
	case r.Entry == nil:
		s.count++
		s.channel.in = append(s.channel.in, notify.Incoming{ID: strconv.Itoa(s.count), From: s.plan.Enrollment.Address.To,
			Text: r.Text, At: s.clock.Now()})
		return nil
	}
	s.entries = append(s.entries, entry(s.plan, r))
	e := *s.plan.Enrollment
	e.Entries = slices.Clone(s.entries)
	return s.service.Accept(ctx, alone(s.plan.Clinic, &e))
}

// writtenBy is who writes the entries of a rehearsal.
const writtenBy = "rehearsal"

// entry is a clinician's entry as it would stand in the files. Why tells two
// of one date apart: the same words would be the same entry.
func entry(p *Plan, r *config.Reply) rules.Entry {
	n := *r.Entry
	n.On, n.By, n.Why, n.At = p.date(r.Day), writtenBy, r.At.String(), r.At
	if n.Kind == rules.EntryStrike {
		n.Report = p.date(cmp.Or(r.Report, r.Day))
	}
	return n
}
