package main

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
)

// queue has an embedded job queue do so many jobs that do nothing, and returns
// how many a second, and by which settings. It is a program of its own, which is
// built first.
func (b *bench) queue(ctx context.Context, jobs int) (float64, string, error) {
	binary := filepath.Join(b.dir, "queue")
	build := exec.CommandContext(ctx, "go", "build", "-o", binary, ".")
	build.Dir = filepath.Join("testdata", "queue")
	if out, err := build.CombinedOutput(); err != nil {
		return 0, "", fmt.Errorf("build the queue: %w: %s", err, out)
	}
	work := exec.CommandContext(ctx, binary, strconv.Itoa(jobs))
	work.Dir, work.Stderr = b.dir, os.Stderr
	out, err := work.Output()
	if err != nil {
		return 0, "", fmt.Errorf("the queue: %w", err)
	}
	var did struct {
		Jobs     int
		Seconds  float64
		Settings string
	}
	if err := json.Unmarshal(out, &did); err != nil {
		return 0, "", fmt.Errorf("the queue's answer: %w", err)
	}
	if did.Jobs != jobs || did.Seconds <= 0 {
		return 0, "", fmt.Errorf("the queue's answer: %s", out)
	}
	return float64(jobs) / did.Seconds, did.Settings, nil
}
