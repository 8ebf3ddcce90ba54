package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"stepgate/daemon/journal"
	"stepgate/notify"
	"stepgate/rules"
)

// grown is how many patients live through how many dates. What they take is
// counted from the second date on: the first has the enrollment, and a longer text.
type grown struct{ people, days int }

// counted are the dates that count, in words.
func (g grown) counted() string {
	if g.days == 2 {
		return "day 2"
	}
	return fmt.Sprintf("days 2 to %d", g.days)
}

// growth measures what a patient-year takes in the file, and that time grows no
// faster than the number of patients.
func (b *bench) growth(ctx context.Context) ([]row, error) {
	sizes := []grown{{1_000, 28}, {10_000, 28}, {100_000, 7}, {1_000_000, 2}}
	if b.small {
		sizes = []grown{{100, 28}, {300, 28}}
	}
	var rows []row
	perDay := time.Duration(0)
	for _, g := range sizes {
		people := g.people
		dir := filepath.Join(b.dir, fmt.Sprint(people))
		if err := os.Mkdir(dir, 0o700); err != nil {
			return nil, err
		}
		took, size, err := live(ctx, dir, g)
		if err != nil {
			return nil, err
		}
		b.logf("growth: %d patients: %s", people, seconds(took))
		days := people * (g.days - 1)
		year := float64(size) / float64(days) * 365
		r := row{
			Name: "growth " + count(float64(people)), What: fmt.Sprintf("%s of a text and a reply for %s patients: the file a patient-year", g.counted(), count(float64(people))),
			Figure: fmt.Sprintf("%.2f MB, %s a patient-day", year/1e6, seconds(took/time.Duration(days))),
			Target: "under 1 MB", Met: year < 1e6,
		}
		if perDay > 0 {
			r.Yardstick = "a patient-day with the fewest: " + seconds(perDay)
			r.Ratio = (took / time.Duration(days)).Seconds() / perDay.Seconds()
		} else {
			perDay = took / time.Duration(days)
		}
		rows = append(rows, r)
		if err := os.RemoveAll(dir); err != nil {
			return nil, err
		}
	}
	return rows, nil
}

// live lives through days of texts, each answered in the evening, and returns
// how long those after the first took and by how much the file grew.
func live(ctx context.Context, dir string, g grown) (time.Duration, int64, error) {
	all := &takes{}
	ch := texts(nil, 1e6)
	ch.Sender = all
	people, before, began := g.people, int64(0), time.Time{}
	s, err := open(ctx, dir, people, workers, ch, journal.Options{})
	if err != nil {
		return 0, 0, err
	}
	take := s.Take("sms")
	for n := range g.days {
		if n == 1 {
			before, began = fileSize(dir), time.Now()
		}
		d := begins + rules.Date(n)
		if _, err := s.morning(ctx, d, &all.days, people, true); err != nil {
			return 0, 0, err
		}
		s.at(d, 18, 0)
		if err := answers(ctx, take, people, n); err != nil {
			return 0, 0, err
		}
	}
	took := time.Since(began)
	if err := s.lived(g); err != nil {
		return 0, 0, err
	}
	return took, fileSize(dir) - before, errors.Join(err, s.close())
}

// lived checks that the last date was decided, sent and answered.
func (s *service) lived(g grown) error {
	return s.journal.View(func(tx *journal.Tx) error {
		days, err := tx.Days(s.clinic.Enrollments.At(g.people-1).ID, 0, 0)
		if err == nil && (len(days) != g.days || days[g.days-1].Fate != "sent" || days[g.days-1].Score != 2) {
			err = fmt.Errorf("the last of %d days: %+v", len(days), days[len(days)-1:])
		}
		return err
	})
}

// answers takes in a reply of everybody, several at a time.
func answers(ctx context.Context, take notify.Take, people, day int) error {
	lots := make(chan error, posters)
	for from := range posters {
		go func() {
			var err error
			for i := from; i < people && err == nil; i += posters {
				err = take(ctx, notify.Incoming{ID: fmt.Sprintf("IN%d-%d", day, i), From: number(i), To: ours, Text: "D2"})
			}
			lots <- err
		}()
	}
	var errs []error
	for range posters {
		errs = append(errs, <-lots)
	}
	return errors.Join(errs...)
}

func fileSize(dir string) int64 {
	info, err := os.Stat(filepath.Join(dir, "journal.db"))
	if err != nil {
		return 0
	}
	return info.Size()
}
