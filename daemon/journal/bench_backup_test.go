package journal

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"
)

// busyYear is a journal file of at least 100 MB: patients with a text a day,
// each handed over, taken and answered.
func busyYear(b *testing.B) (path string, j *Journal) {
	b.Helper()
	path = filepath.Join(b.TempDir(), "journal.db")
	j, err := Open(path, Options{NoSync: true})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { _ = j.Close() })
	const people = 500
	for n := range people {
		mustAdd(b, j, enroll(fmt.Sprintf("p%03d", n), day))
	}
	for d := 0; ; d++ {
		info, err := os.Stat(path)
		if err != nil {
			b.Fatal(err)
		}
		if info.Size() >= 100<<20 {
			return path, j
		}
		var events []Event
		for n := range people {
			id, at := fmt.Sprintf("p%03d", n), day.AddDate(0, 0, d)
			out := daily(id, fmt.Sprintf("day/%s/%d", id, d))
			out.Out.Channel, out.Out.From, out.Out.Segments, out.Out.Next, out.Out.Rev = "sms", "+12025550100", 1, nil, 0
			sent := settle(id, out.Out.Key, "sent")
			sent.Result.ID = out.Out.Key
			news := Event{Kind: Delivery, ID: id, Key: out.Out.Key, Result: &Result{Status: Delivered}}
			heard := Event{Kind: Heard, ID: id, In: &In{Channel: "sms", ID: "in" + out.Out.Key, From: "+12025550142", Text: "D P2", Came: at}}
			for _, e := range []Event{out, handed(id, out.Out.Key), sent, news, heard} {
				e.At = at
				events = append(events, e)
			}
		}
		mustAdd(b, j, events...)
	}
}

// A copy of 100 MB to a file on the same disk, synced, and its verification.
func BenchmarkBackup(b *testing.B) {
	path, j := busyYear(b)
	to := filepath.Join(filepath.Dir(path), "copy.db")
	var copying, verifying time.Duration
	for range b.N {
		start := time.Now()
		f, err := os.Create(to)
		if err != nil {
			b.Fatal(err)
		}
		if err := errors.Join(j.Backup(b.Context(), f), f.Sync(), f.Close()); err != nil {
			b.Fatal(err)
		}
		copying += time.Since(start)
		start = time.Now()
		rep, err := VerifyFile(to)
		if err != nil {
			b.Fatal(err)
		}
		verifying += time.Since(start)
		b.ReportMetric(float64(rep.Events), "events")
	}
	info, err := os.Stat(to)
	if err != nil {
		b.Fatal(err)
	}
	mb := float64(info.Size()) / 1e6 * float64(b.N)
	b.ReportMetric(mb/copying.Seconds(), "copied-MB/s")
	b.ReportMetric(mb/verifying.Seconds(), "verified-MB/s")
}

// Erasing one patient in ten, and the compaction after it.
func BenchmarkEraseAndCompact(b *testing.B) {
	for range b.N {
		path, j := busyYear(b)
		start := time.Now()
		for n := 0; n < 500; n += 10 {
			err := j.Update(b.Context(), func(tx *Tx) error { return tx.Erase(fmt.Sprintf("p%03d", n), day, "", "") })
			if err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(float64(time.Since(start).Milliseconds())/50, "ms/person")
		if err := j.Close(); err != nil {
			b.Fatal(err)
		}
		start = time.Now()
		before, after, err := Compact(path)
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(time.Since(start).Seconds(), "s/compact")
		b.ReportMetric(float64(after)/float64(before), "after/before")
	}
}
