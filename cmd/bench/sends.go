package main

import (
	"context"
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"stepgate/config"
	"stepgate/daemon"
	"stepgate/notify"
	"stepgate/rules"
)

const workers = 256

// sends measures durable texts, from due to outcome committed, beside a loop of
// the same client and as many workers that records nothing.
func (b *bench) sends(ctx context.Context) ([]row, error) {
	people := b.sized(20_000, 3_000)
	s, err := b.texting(ctx, people, 0, 1e6)
	if err != nil {
		return nil, err
	}
	text, err := s.text()
	if err != nil {
		return nil, err
	}
	before, err := bare(ctx, s.sms, people, text)
	if err != nil {
		return nil, err
	}
	took, err := s.morning(ctx, begins, &s.carrier.took, people, true)
	if err != nil {
		return nil, err
	}
	after, err := bare(ctx, s.sms, people, text)
	if err != nil {
		return nil, err
	}
	if err := s.close(); err != nil {
		return nil, err
	}
	jobs, how, err := b.queue(ctx, people)
	if err != nil {
		return nil, err
	}
	durable, loop := rate(people, took), max(before, after) // the better of both is the harder one
	return []row{{
		Name: "sends", What: fmt.Sprintf("%s texts from due to outcome committed, %d workers", count(float64(people)), workers),
		Figure: perSecond(durable), Yardstick: "a bare loop of the client: " + perSecond(loop), Ratio: durable / loop,
		Target: "at least 0.6", Met: durable/loop >= 0.6,
	}, {
		Name: "sends beside a queue", What: "the same texts beside as many jobs that do nothing, of an embedded job queue",
		Figure: perSecond(durable), Yardstick: "River on SQLite (" + how + "): " + perSecond(jobs), Ratio: durable / jobs,
	}}, nil
}

// texts is the channel of a client, at so many segments a second.
func texts(sms *notify.SMS, rate float64) daemon.Channel {
	return daemon.Channel{Sender: sms, Receive: silent{}, Every: time.Hour, Numbers: []config.SMSNumber{{Number: ours, Rate: rate}}}
}

// bare sends by the client alone, and returns how many a second.
func bare(ctx context.Context, sms *notify.SMS, people int, text string) (float64, error) {
	var working sync.WaitGroup
	var next, failed atomic.Int64
	began := time.Now()
	for range workers {
		working.Go(func() {
			for i := next.Add(1); i <= int64(people); i = next.Add(1) {
				m := notify.Message{Key: fmt.Sprint(i), To: number(int(i)), From: ours, Text: text}
				if sms.Send(ctx, m).Status != notify.Sent {
					failed.Add(1)
				}
			}
		})
	}
	working.Wait()
	if failed.Load() > 0 {
		return 0, fmt.Errorf("%d of the bare loop's texts failed", failed.Load())
	}
	return rate(people, time.Since(began)), nil
}

// morning has everybody due on a date and waits until so many texts were taken and, where
// that is to be waited for, nothing is left without an outcome on disk.
func (s *service) morning(ctx context.Context, d rules.Date, took *atomic.Int64, people int, settled bool) (time.Duration, error) {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	s.at(d, 9, 0)
	sent := took.Load()
	done := make(chan error, 1)
	began := time.Now()
	go func() { done <- s.Run(ctx, daemon.RunOptions{Tick: "@every 1h", Poll: time.Hour}) }()
	for {
		select {
		case err := <-done:
			return 0, fmt.Errorf("the service stopped: %w", err)
		case <-time.After(5 * time.Millisecond):
		}
		if took.Load()-sent < int64(people) {
			continue
		}
		left, err := 0, error(nil)
		if settled {
			left, err = s.waiting()
		}
		if err != nil {
			return 0, err
		}
		if left == 0 {
			break
		}
	}
	lasted := time.Since(began)
	stop()
	return lasted, <-done
}
