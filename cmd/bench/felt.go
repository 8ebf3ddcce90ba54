package main

import (
	"context"
	"errors"
	"fmt"
	"net/http/httptest"
	"slices"
	"sync"
	"syscall"
	"time"

	"stepgate/daemon/journal"
	"stepgate/notify"
)

const (
	feltRate    = 450 // texts a second
	feltLatency = 200 * time.Millisecond
)

// felt measures what the clinic feels on a busy morning: texts at a carrier's
// pace, with the carrier's latency, and replies that come in meanwhile.
func (b *bench) felt(ctx context.Context) (rows []row, err error) {
	people := feltRate * b.sized(20, 5)
	k, err := newApart(ctx, feltLatency)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, k.end()) }()
	sms, err := clientOf(k.api)
	if err != nil {
		return nil, err
	}
	ch, sent := texts(sms, feltRate), &counted{Sender: sms}
	ch.Sender = sent
	s, err := open(ctx, b.dir, people, workers, ch, journal.Options{})
	if err != nil {
		return nil, err
	}
	text, err := s.text()
	if err != nil {
		return nil, err
	}
	ch.Numbers[0].Rate *= float64(notify.Segments(text).Segments) // it is in segments
	loop, err := paced(ctx, sms, people, text)
	if err != nil {
		return nil, err
	}
	hook := httptest.NewServer(sms.Hook(webhook, s.Take("sms"), quiet))
	defer hook.Close()
	answering, stop := context.WithCancel(ctx)
	var waits []time.Duration
	var failed error
	var replying sync.WaitGroup
	replying.Go(func() { waits, failed = replies(answering, hook.URL, people) })
	cpu := busy()
	took, err := s.morning(ctx, begins, &sent.took, people, false)
	cpu = busy() - cpu
	stop()
	replying.Wait()
	if err := errors.Join(err, failed, s.close()); err != nil {
		return nil, err
	}
	if len(waits) < 10 {
		return nil, fmt.Errorf("only %d replies were acknowledged", len(waits))
	}
	slices.Sort(waits)
	late := waits[len(waits)*99/100]
	share := cpu.Seconds() / took.Seconds()
	return []row{{
		Name: "felt cpu", What: fmt.Sprintf("%d texts a second at %s, replies at 20 a second: of one core, with the repliers, without the carrier", feltRate, feltLatency),
		Figure: fmt.Sprintf("%.2f", share), Yardstick: fmt.Sprintf("the client alone at that pace: %.2f", loop), Ratio: share / loop,
		Target: "under 0.25", Met: share < 0.25,
	}, {
		Name: "felt replies", What: fmt.Sprintf("a reply acknowledged meanwhile, 99th percentile of %d", len(waits)),
		Figure: seconds(late), Target: "50 ms", Met: late <= 50*time.Millisecond,
	}}, nil
}

// paced sends by the client alone at the pace, and returns the share of a core.
func paced(ctx context.Context, sms *notify.SMS, people int, text string) (float64, error) {
	var working sync.WaitGroup
	failed := make(chan error, people)
	turn := time.NewTicker(10 * time.Millisecond)
	defer turn.Stop()
	cpu, began := busy(), time.Now()
	for sent := 0; sent < people; <-turn.C {
		for due := min(people, int(time.Since(began).Seconds()*feltRate)); sent < due; sent++ {
			m := notify.Message{Key: fmt.Sprint(sent), To: number(sent), From: ours, Text: text}
			working.Go(func() {
				if res := sms.Send(ctx, m); res.Status != notify.Sent {
					failed <- fmt.Errorf("a text was %s", res.Status)
				}
			})
		}
	}
	working.Wait()
	select {
	case err := <-failed:
		return 0, err
	default:
	}
	return (busy() - cpu).Seconds() / time.Since(began).Seconds(), nil
}

// replies posts one every 50 ms and returns how long each took to be
// acknowledged.
func replies(ctx context.Context, hook string, people int) (waits []time.Duration, err error) {
	turn := time.NewTicker(50 * time.Millisecond)
	defer turn.Stop()
	p := newPoster(hook)
	for i := 0; ; i++ {
		select {
		case <-ctx.Done():
			return waits, nil
		case <-turn.C:
		}
		began := time.Now()
		if err := p.post(i%people, i); err != nil {
			return waits, err
		}
		waits = append(waits, time.Since(began))
	}
}

// busy is the processor time of this process so far.
func busy() time.Duration {
	var u syscall.Rusage
	_ = syscall.Getrusage(syscall.RUSAGE_SELF, &u) // it fails for no process of ours
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
