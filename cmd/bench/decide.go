package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	bolt "go.etcd.io/bbolt"

	"stepgate/config"
	"stepgate/daemon"
	"stepgate/daemon/journal"
	"stepgate/rules"
	"stepgate/templates"
)

// decide measures a morning's decisions for everybody: by themselves with
// their messages rendered, and as a tick that commits the intents.
func (b *bench) decide(ctx context.Context) ([]row, error) {
	people := b.sized(1_000_000, 5_000)
	peak := watchMemory()
	s, err := open(ctx, b.dir, people, 0, texts(nil, 1e6), journal.Options{})
	if err != nil {
		return nil, err
	}
	reads, err := cursorReads(filepath.Join(b.dir, "rows.db"), people)
	if err != nil {
		return nil, err
	}
	pure, err := judge(s)
	if err != nil {
		return nil, err
	}
	s.at(begins, 9, 0)
	s.Collect(ctx) // no day is decided unheard
	began := time.Now()
	if err := s.Tick(ctx); err != nil {
		return nil, err
	}
	tick, most := time.Since(began), peak()
	waiting, err := s.waiting()
	if err == nil && waiting != people {
		err = fmt.Errorf("%d messages wait, want %d", waiting, people)
	}
	if err = errors.Join(err, s.close()); err != nil {
		return nil, err
	}
	n := count(float64(people))
	beside := fmt.Sprintf("as many reads by a cursor: %s", seconds(reads))
	return []row{{
		Name: "decide", What: n + " due decided and rendered, states read from the journal", Figure: seconds(pure), Yardstick: beside,
		Ratio: pure.Seconds() / reads.Seconds(), Target: "15 s for 1,000,000", Met: pure <= 15*time.Second,
	}, {
		Name: "tick", What: n + " due, through committed intents", Figure: seconds(tick), Yardstick: beside,
		Ratio: tick.Seconds() / reads.Seconds(), Target: "40 s for 1,000,000", Met: tick <= 40*time.Second,
	}, {
		Name: "memory", What: "anonymous memory at most, of both and of taking in " + n + " enrollments", Figure: mebibytes(most),
		Target: "under 1 GiB for 1,000,000", Met: most < 1<<30,
	}}, nil
}

// judge decides and renders the first date for everybody, on every processor.
func judge(s *service) (time.Duration, error) {
	words, err := templates.New()
	if err != nil {
		return 0, err
	}
	says := daemon.ClinicWords(s.clinic)
	lots := runtime.GOMAXPROCS(0)
	var texts atomic.Int64
	errs := make([]error, lots)
	var working sync.WaitGroup
	began := time.Now()
	for lot := range lots {
		working.Go(func() {
			all := s.clinic.Enrollments
			errs[lot] = s.journal.View(func(tx *journal.Tx) error {
				for i := lot * all.Len() / lots; i < (lot+1)*all.Len()/lots; i++ {
					e := all.At(i)
					p, err := tx.Person(e.ID)
					if err != nil {
						return err
					}
					if day(words, says, s.clinic, e, p.State) != "" {
						texts.Add(1)
					}
				}
				return nil
			})
		})
	}
	working.Wait()
	took := time.Since(began)
	if n := int(texts.Load()); n != s.clinic.Enrollments.Len() {
		errs = append(errs, fmt.Errorf("%d texts", n))
	}
	return took, errors.Join(errs...)
}

// day is the text of the first date.
func day(words *templates.Set, says templates.Clinic, c *config.Clinic, e *config.Enrollment, st rules.State) string {
	program := c.Programs[e.Program]
	_, dec := rules.Decide(program, &e.Enrollment, st, begins, rules.Facts{})
	return words.Daily(says, daemon.PatientWords(e), program, dec).Text
}

// text is the text that everybody gets first.
func (s *service) text() (string, error) {
	words, err := templates.New()
	if err != nil {
		return "", err
	}
	return day(words, daemon.ClinicWords(s.clinic), s.clinic, s.clinic.Enrollments.At(0), rules.State{Rev: 1}), nil
}

// cursorReads is how long it takes to read so many rows of a person's size by
// a cursor.
func cursorReads(path string, n int) (time.Duration, error) {
	db, err := bolt.Open(path, 0o600, &bolt.Options{NoSync: true})
	if err != nil {
		return 0, err
	}
	value := []byte(strings.Repeat("x", 300))
	for from := 0; from < n; from += 10_000 {
		err := db.Update(func(tx *bolt.Tx) error {
			to, err := tx.CreateBucketIfNotExists([]byte("rows"))
			for i := from; i < min(from+10_000, n) && err == nil; i++ {
				err = to.Put(fmt.Appendf(nil, "p-%07d", i), value)
			}
			return err
		})
		if err != nil {
			return 0, err
		}
	}
	read, began := 0, time.Now()
	err = db.View(func(tx *bolt.Tx) error {
		cur := tx.Bucket([]byte("rows")).Cursor()
		for k, v := cur.First(); k != nil; k, v = cur.Next() {
			read += len(v) / len(value)
		}
		return nil
	})
	took := time.Since(began)
	if read != n {
		err = errors.Join(err, fmt.Errorf("%d rows read", read))
	}
	return took, errors.Join(err, db.Close())
}

// nobody measures a tick with nobody due.
func (b *bench) nobody(ctx context.Context) ([]row, error) {
	people := b.sized(1_000_000, 5_000)
	s, err := open(ctx, b.dir, people, 0, texts(nil, 1e6), journal.Options{})
	if err != nil {
		return nil, err
	}
	const ticks = 100
	began := time.Now()
	for range ticks {
		if err := s.Tick(ctx); err != nil {
			return nil, err
		}
	}
	tick := time.Since(began) / ticks
	began = time.Now()
	for range ticks {
		err := s.journal.View(func(tx *journal.Tx) error {
			if rows, err := tx.DueBy(s.clock.Now(), 1); err != nil || len(rows) > 0 {
				return fmt.Errorf("%d due: %w", len(rows), err)
			}
			return nil
		})
		if err != nil {
			return nil, err
		}
	}
	look := time.Since(began) / ticks
	if err := s.close(); err != nil {
		return nil, err
	}
	return []row{{
		Name: "nobody due", What: "a tick with nobody due and " + count(float64(people)) + " enrolled", Figure: seconds(tick),
		Yardstick: "a look at the index alone: " + seconds(look), Ratio: tick.Seconds() / look.Seconds(),
		Target: "under 5 ms for 1,000,000", Met: tick < 5*time.Millisecond,
	}}, nil
}

// watchMemory looks at the anonymous resident memory of this process until the
// peak is asked for, in bytes. What was there before does not count.
func watchMemory() (peak func() int64) {
	runtime.GC()
	most, before := int64(0), anonymous("self")
	stop, done := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(done)
		turn := time.NewTicker(20 * time.Millisecond)
		defer turn.Stop()
		for {
			most = max(most, anonymous("self")-before)
			select {
			case <-stop:
				return
			case <-turn.C:
			}
		}
	}()
	return func() int64 { close(stop); <-done; return most }
}

// anonymous is a process's anonymous resident memory, in bytes.
func anonymous(pid string) int64 { return memory(pid, "RssAnon:") }

func memory(pid, field string) int64 {
	text, err := os.ReadFile("/proc/" + pid + "/status")
	if err != nil {
		return 0
	}
	_, rest, _ := strings.Cut(string(text), field)
	kib := int64(0)
	_, _ = fmt.Sscan(rest, &kib) // not there: none
	return kib << 10
}
