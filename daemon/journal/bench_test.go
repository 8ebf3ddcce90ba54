package journal

import (
	"context"
	"fmt"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

// Durable appends of a small event, from so many goroutines at once.
func BenchmarkAppend(b *testing.B) {
	for _, n := range []int{1, 10, 100, 1000} {
		b.Run(fmt.Sprintf("goroutines=%d", n), func(b *testing.B) {
			j := openNew(b)
			mustAdd(b, j, enroll("p1", day))
			before := commits(b, j)
			var left atomic.Int64
			left.Store(int64(b.N))
			b.ResetTimer()
			var wg sync.WaitGroup
			for range n {
				wg.Go(func() {
					for left.Add(-1) >= 0 {
						err := j.Update(context.Background(), func(tx *Tx) error {
							return firstErr(tx.Append(Event{Kind: Noted, ID: "p1", At: day, Note: "a line of plain text"}))
						})
						if err != nil {
							b.Error(err)
							return
						}
					}
				})
			}
			wg.Wait()
			b.StopTimer()
			b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "events/s")
			b.ReportMetric(float64(b.N)/float64(commits(b, j)-before), "events/commit")
		})
	}
}

// One daily message's intent, without commits: what the writer itself costs.
func BenchmarkIntent(b *testing.B) {
	j := crowd(b, 10_000)
	b.ReportAllocs()
	b.ResetTimer()
	for i := 0; i < b.N; {
		err := j.Update(context.Background(), func(tx *Tx) error {
			for n := 0; n < 10_000 && i < b.N; n++ {
				id := fmt.Sprintf("p%06d", n)
				e := daily(id, fmt.Sprintf("daily/%s/%d", id, i))
				e.At = day
				if err := firstErr(tx.Append(e)); err != nil {
					return err
				}
				i++
			}
			return nil
		})
		if err != nil {
			b.Fatal(err)
		}
	}
}

// A tick with nobody due among 100,000.
func BenchmarkNobodyDue(b *testing.B) {
	j := crowd(b, 100_000)
	b.ResetTimer()
	for range b.N {
		err := j.View(func(tx *Tx) error {
			rows, err := tx.DueBy(day.Add(-time.Minute), 1000)
			if len(rows) != 0 {
				b.Fatal("somebody is due")
			}
			return err
		})
		if err != nil {
			b.Fatal(err)
		}
	}
}

// crowd is a journal of so many enrollments, all due at day or later.
func crowd(b *testing.B, n int) *Journal {
	b.Helper()
	j, err := Open(filepath.Join(b.TempDir(), "journal.db"), Options{NoSync: true})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() {
		if err := j.Close(); err != nil {
			b.Error(err)
		}
	})
	for done := 0; done < n; {
		var events []Event
		for ; len(events) < 5000 && done < n; done++ {
			events = append(events, enroll(fmt.Sprintf("p%06d", done), day.Add(time.Duration(done)*time.Second)))
		}
		mustAdd(b, j, events...)
	}
	return j
}
