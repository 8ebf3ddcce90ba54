package main

import (
	"context"
	"fmt"
	"path/filepath"
	"time"

	"stepgate/daemon/rehearsal"
	"stepgate/templates"
)

// rehearse measures a crowd that is played for twelve weeks, beside the same for
// a tenth of it.
func (b *bench) rehearse(ctx context.Context) ([]row, error) {
	people := b.sized(10_000, 1_000)
	c, err := clinic(filepath.Join(b.dir, "clinic"), 1, "sms")
	if err != nil {
		return nil, err
	}
	words, err := templates.New()
	if err != nil {
		return nil, err
	}
	plan, err := rehearsal.NewPlan(c, rehearsal.Wanted{Program: "heel-pain", Weeks: 12, Start: begins})
	if err != nil {
		return nil, err
	}
	play := func(n int) (time.Duration, error) {
		began := time.Now()
		crowd, err := rehearsal.PlayCrowd(ctx, words, plan, n, 1)
		if err == nil && crowd.Daily == 0 {
			err = fmt.Errorf("nobody got a text")
		}
		return time.Since(began), err
	}
	tenth, err := play(people / 10)
	if err != nil {
		return nil, err
	}
	all, err := play(people)
	if err != nil {
		return nil, err
	}
	return []row{{
		Name: "rehearse", What: count(float64(people)) + " people for 12 weeks", Figure: seconds(all),
		Yardstick: "a tenth of them: " + seconds(tenth), Ratio: all.Seconds() / tenth.Seconds(),
		Target: "under 5 s for 10,000", Met: all < 5*time.Second,
	}}, nil
}
