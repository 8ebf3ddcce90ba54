// Command queue does so many jobs that do nothing through River on SQLite, and
// prints how long that took: what an embedded job queue costs by itself, beside
// what the service needs for a text. It is a module of its own, so that none of
// it is a dependency of the service.
//
//	go run . 20000
package main

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strconv"
	"time"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver/riversqlite"
	"github.com/riverqueue/river/rivermigrate"
	_ "modernc.org/sqlite"
)

const workers = 256

// settings are SQLite's: as durable as the journal's commits are.
const settings = "journal_mode=WAL, synchronous=FULL"

const pragmas = "?_pragma=journal_mode(WAL)&_pragma=synchronous(FULL)&_pragma=busy_timeout(10000)"

type nothing struct{}

func (nothing) Kind() string { return "nothing" }

type worker struct{ river.WorkerDefaults[nothing] }

func (worker) Work(context.Context, *river.Job[nothing]) error { return nil }

func main() {
	if err := run(); err != nil {
		fmt.Fprintln(os.Stderr, "queue:", err)
		os.Exit(1)
	}
}

func run() error {
	jobs := 20_000
	if len(os.Args) > 1 {
		var err error
		if jobs, err = strconv.Atoi(os.Args[1]); err != nil || jobs < 1 {
			return fmt.Errorf("%q is no number of jobs", os.Args[1])
		}
	}
	dir, err := os.MkdirTemp(".", ".queue-")
	if err != nil {
		return err
	}
	defer func() { _ = os.RemoveAll(dir) }()
	took, err := drain(context.Background(), filepath.Join(dir, "queue.db"), jobs)
	if err != nil {
		return err
	}
	return json.NewEncoder(os.Stdout).Encode(map[string]any{"jobs": jobs, "seconds": took.Seconds(), "settings": settings})
}

// drain is how long it takes from before the jobs are inserted, in bulk, until
// the last is completed.
func drain(ctx context.Context, path string, jobs int) (time.Duration, error) {
	db, err := sql.Open("sqlite", "file:"+path+pragmas)
	if err != nil {
		return 0, err
	}
	defer func() { _ = db.Close() }()
	db.SetMaxOpenConns(1) // SQLite has one writer
	driver := riversqlite.New(db)
	migrator, err := rivermigrate.New(driver, nil)
	if err != nil {
		return 0, err
	}
	if _, err := migrator.Migrate(ctx, rivermigrate.DirectionUp, nil); err != nil {
		return 0, err
	}
	list := river.NewWorkers()
	river.AddWorker(list, &worker{})
	client, err := river.NewClient(driver, &river.Config{
		Queues:  map[string]river.QueueConfig{river.QueueDefault: {MaxWorkers: workers}},
		Workers: list, Logger: slog.New(slog.DiscardHandler),
		FetchCooldown: time.Millisecond, FetchPollInterval: 5 * time.Millisecond,
	})
	if err != nil {
		return 0, err
	}
	began := time.Now()
	for left := jobs; left > 0; {
		lot := make([]river.InsertManyParams, min(left, 1000))
		for i := range lot {
			lot[i].Args = nothing{}
		}
		if _, err := client.InsertMany(ctx, lot); err != nil {
			return 0, err
		}
		left -= len(lot)
	}
	if err := client.Start(ctx); err != nil {
		return 0, err
	}
	for {
		done := 0
		if err := db.QueryRowContext(ctx, "SELECT count(*) FROM river_job WHERE state = 'completed'").Scan(&done); err != nil {
			return 0, err
		}
		if done == jobs {
			break
		}
		time.Sleep(20 * time.Millisecond)
	}
	took := time.Since(began)
	return took, client.Stop(ctx)
}
