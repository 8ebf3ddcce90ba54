//go:build proof

package main

import (
	"sync"
	"time"
)

// answers are what patients say, each once. None pauses a plan. The carrier
// itself answers stopWord and lets nothing more through.
var answers = []string{"D1", "D2", "d 0", "done 3", "S2", "P5", "P6", "2", "H", "N", "W3", "D", "hm what", "F2", "D1", "D2", stopWord}

const stopWord = "STOP"

// talk has patients answer whose text the carrier has taken, now one and now
// another, until it is over or so many have.
func (x *morning) talk(over <-chan struct{}, most int) {
	var texting sync.WaitGroup
	defer texting.Wait()
	next := time.NewTicker(20 * time.Millisecond)
	defer next.Stop()
	for said := 0; said < most; {
		select {
		case <-over:
			return
		case <-next.C:
		}
		for _, from := range x.readers(1 + x.rnd.n(3)) {
			said++
			texting.Go(func() { x.carrier.Receive(from, sender, x.said[from]) })
		}
	}
}

// readers picks up to n patients who have their text and have not answered,
// and counts them as having answered.
func (x *morning) readers(n int) []string {
	have := map[string]bool{}
	for _, m := range x.carrier.Messages() {
		have[m.To] = true
	}
	x.mu.Lock()
	defer x.mu.Unlock()
	var out []string
	for _, number := range x.numbers {
		if have[number] && !x.spoken[number] && len(out) < n {
			x.spoken[number] = true
			out = append(out, number)
		}
	}
	return out
}

// complete tells whether the carrier has every text and answer there should
// be, or more.
func (x *morning) complete() bool {
	texts := map[string]int{}
	for _, m := range x.carrier.Messages() {
		texts[m.To]++
	}
	x.mu.Lock()
	defer x.mu.Unlock()
	for _, number := range x.numbers {
		if !x.spoken[number] || texts[number] < 1+x.wantAnswers(number) {
			return false
		}
	}
	return true
}

// wantAnswers is how many answers of ours a patient's one text gets.
func (x *morning) wantAnswers(number string) int {
	if x.said[number] == stopWord {
		return 0
	}
	return 1
}
