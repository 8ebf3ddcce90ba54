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

// growthDays is how many dates are lived through: the program's first weeks.
const growthDays = 28

// growth measures what a patient-year takes in the file, and that time grows no
// faster than the number of patients.
func (b *bench) growth(ctx context.Context) ([]row, error) {
	sizes := []int{1_000, 10_000}
	if b.small {
		sizes = []int{100, 300}
	}
	var rows []row
	perDay := time.Duration(0)
	for _, people := range sizes {
		dir := filepath.Join(b.dir, fmt.Sprint(people))
		if err := os.Mkdir(dir, 0o700); err != nil {
			return nil, err
		}
		took, size, err := live(ctx, dir, people)
		if err != nil {
			return nil, err
		}
		b.logf("growth: %d patients: %s", people, seconds(took))
		days := people * growthDays
		year := float64(size) / float64(days) * 365
		r := row{
			Name: "growth " + count(float64(people)), What: fmt.Sprintf("%d days of a text and a reply for %s patients: the file a patient-year", growthDays, count(float64(people))),
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
// how long that took and by how much the file grew.
func live(ctx context.Context, dir string, people int) (time.Duration, int64, error) {
	all := &takes{}
	ch := texts(nil, 1e6)
	ch.Sender = all
	s, err := open(ctx, dir, people, workers, ch, journal.Options{})
	if err != nil {
		return 0, 0, err
	}
	before, began := fileSize(dir), time.Now()
	take := s.Take("sms")
	for n := range growthDays {
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
	if err := s.lived(people); err != nil {
		return 0, 0, err
	}
	return took, fileSize(dir) - before, errors.Join(err, s.close())
}

// lived checks that the last date was decided, sent and answered.
func (s *service) lived(people int) error {
	return s.journal.View(func(tx *journal.Tx) error {
		days, err := tx.Days(s.clinic.Enrollments[people-1].ID, 0, 0)
		if err == nil && (len(days) != growthDays || days[growthDays-1].Fate != "sent" || days[growthDays-1].Score != 2) {
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
