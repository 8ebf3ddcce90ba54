package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"runtime"
	"time"

	"stepgate/config"
	"stepgate/daemon"
	"stepgate/daemon/journal"
	"stepgate/templates"
)

// start measures taking a clinic's folder in: the first time, again with nothing
// changed, and with one file changed of many, beside hashing the files alone.
func (b *bench) start(ctx context.Context) ([]row, error) {
	people, dir := b.sized(1_000_000, 5_000), filepath.Join(b.dir, "clinic")
	if err := folder(dir, people, begins); err != nil {
		return nil, err
	}
	hashing, err := hashAll(dir)
	if err != nil {
		return nil, err
	}
	j, err := journal.Open(filepath.Join(b.dir, "journal.db"), journal.Options{})
	if err != nil {
		return nil, err
	}
	peak := watchMemory()
	first, err := takeIn(ctx, j, dir, people)
	if err != nil {
		return nil, err
	}
	most := peak()
	again, err := takeIn(ctx, j, dir, people)
	if err != nil {
		return nil, err
	}
	if err := changeOne(dir); err != nil {
		return nil, err
	}
	changed, err := takeIn(ctx, j, dir, people)
	if err != nil {
		return nil, err
	}
	if err := j.Close(); err != nil {
		return nil, err
	}
	n, beside := count(float64(people)), "hashing the files: "+seconds(hashing)
	return []row{{
		Name: "first start", What: n + " enrolled, read for the first time: until the first send may go", Figure: seconds(first), Yardstick: beside,
		Ratio: first.Seconds() / hashing.Seconds(),
	}, {
		Name: "first start memory", What: "anonymous memory at most while that is done", Figure: mebibytes(most),
		Target: "under 2 GiB for 1,000,000", Met: most < 2<<30,
	}, {
		Name: "start", What: n + " enrolled, nothing changed: until the first send may go", Figure: seconds(again), Yardstick: beside,
		Ratio: again.Seconds() / hashing.Seconds(), Target: "under 10 s for 1,000,000", Met: again < 10*time.Second,
	}, {
		Name: "start one changed", What: n + " enrolled, one file of 1,000 patients changed: until the first send may go", Figure: seconds(changed), Yardstick: beside,
		Ratio: changed.Seconds() / hashing.Seconds(),
	}}, nil
}

// changeOne gives a patient of the last file another name.
func changeOne(dir string) error {
	files, err := filepath.Glob(filepath.Join(dir, "enrollments", "*.yaml"))
	if err != nil {
		return err
	}
	last := files[len(files)-1]
	text, err := os.ReadFile(last)
	if err != nil {
		return err
	}
	return os.WriteFile(last, bytes.Replace(text, []byte("Rosa"), []byte("Rosalia"), 1), 0o600)
}

// takeIn reads a folder, puts it in force and keeps what was read, as a start does.
func takeIn(ctx context.Context, j *journal.Journal, dir string, people int) (time.Duration, error) {
	words, err := templates.New()
	if err != nil {
		return 0, err
	}
	runtime.GC()
	began := time.Now()
	reader := &config.Reader{Dir: dir, Getenv: os.Getenv}
	c, problems, _ := reader.Load()
	if c == nil {
		return 0, problems.Errors()
	}
	if err := os.MkdirAll(c.Data, 0o700); err != nil {
		return 0, err
	}
	clock := &daemon.SetClock{}
	clock.Set(daemon.LocalInstant(begins, 8*60, c.Zone))
	s, err := daemon.NewService(daemon.Options{Journal: j, Words: words, Log: slog.New(slog.DiscardHandler), Clock: clock,
		Channels: map[string]daemon.Channel{"spool": {Sender: &takes{}, Receive: silent{}}}})
	if err == nil {
		err = s.Accept(ctx, c)
	}
	if err == nil {
		err = reader.Keep(c)
	}
	took := time.Since(began)
	if err == nil && s.Clinic().Enrollments.Len() != people {
		err = fmt.Errorf("%d enrolled", s.Clinic().Enrollments.Len())
	}
	return took, err
}

// hashAll reads and hashes every file of a folder.
func hashAll(dir string) (time.Duration, error) {
	began := time.Now()
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := os.ReadFile(path)
		_ = sha256.Sum256(data)
		return err
	})
	return time.Since(began), err
}
