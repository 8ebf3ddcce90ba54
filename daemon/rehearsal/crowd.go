package rehearsal

import (
	"context"
	"runtime"
	"sync"
	"sync/atomic"

	"stepgate/rules"
	"stepgate/templates"
)

// MaxCrowd is the largest crowd.
const MaxCrowd = 1_000_000

// Crowd is what came of a crowd. Its JSON is a contract; see the folder's
// README.
type Crowd struct {
	Program string     `json:"program"`
	People  int        `json:"people"`
	Seed    uint64     `json:"seed"`
	Start   rules.Date `json:"start"`
	Weeks   int        `json:"weeks"`
	Steps   int        `json:"steps"`
	// Reached counts, by the end of each week, the people who have ever been
	// at each step or above: Reached[week-1][step-1].
	Reached [][]int   `json:"reached"`
	Trouble []Trouble `json:"trouble"` // by step

	Daily    int `json:"daily_texts"`
	Answers  int `json:"answer_texts"`
	Segments int `json:"segments"`
	Most     int `json:"longest"`       // segments of the longest text
	Alerts   int `json:"alert_causes"`  // what a clinician would be told of
	Replies  int `json:"replies"`       // texts the people sent
	Silent   int `json:"silent_people"` // who never sent any
}

// Trouble is where pain stood in the way, by the step that was served on the
// day it was reported.
type Trouble struct {
	Step      int `json:"step"`
	Holds     int `json:"holds"` // pain holds begun
	People    int `json:"people"`
	StepBacks int `json:"step_backs"` // to the step before, or to the beginning of this
	Pauses    int `json:"pauses"`
	Waits     int `json:"waits"` // dates at the end of the step, the advance rule not met
}

// PlayCrowd plays so many made-up patients on the plan, on every processor
// there is. The same seed plays the same crowd.
func PlayCrowd(ctx context.Context, words *templates.Set, plan *Plan, people int, seed uint64) (*Crowd, error) {
	lang := plan.Enrollment.Language
	vocabulary, err := templates.Vocabulary(lang)
	if err != nil {
		return nil, err
	}
	reader, err := vocabulary.Compile()
	if err != nil {
		return nil, err
	}
	sum := newCrowd(plan)
	sum.People, sum.Seed = people, seed
	var next atomic.Int64
	var mu sync.Mutex
	var working sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		working.Go(func() {
			part, texts := newCrowd(plan), newTexts(words, plan, reader)
			for i := int(next.Add(1)); i <= people && ctx.Err() == nil; i = int(next.Add(1)) {
				part.live(newLight(plan, texts), newSomeone(seed, i, vocabulary.Letters))
			}
			mu.Lock()
			defer mu.Unlock()
			sum.add(part)
		})
	}
	working.Wait()
	return sum, ctx.Err()
}

func newCrowd(plan *Plan) *Crowd {
	steps := len(plan.Program.Blocks)
	c := &Crowd{Program: plan.Program.ID, Start: plan.First, Weeks: plan.Days / 7, Steps: steps,
		Reached: make([][]int, plan.Days/7), Trouble: make([]Trouble, steps)}
	for i := range c.Reached {
		c.Reached[i] = make([]int, steps)
	}
	for i := range c.Trouble {
		c.Trouble[i].Step = i + 1
	}
	return c
}

// add adds what came of some to what came of others. Sums do not depend on
// who lived where.
func (c *Crowd) add(part *Crowd) {
	for w := range c.Reached {
		for s := range c.Reached[w] {
			c.Reached[w][s] += part.Reached[w][s]
		}
	}
	for i, t := range part.Trouble {
		into := &c.Trouble[i]
		into.Holds += t.Holds
		into.People += t.People
		into.StepBacks += t.StepBacks
		into.Pauses += t.Pauses
		into.Waits += t.Waits
	}
	c.Daily += part.Daily
	c.Answers += part.Answers
	c.Segments += part.Segments
	c.Most = max(c.Most, part.Most)
	c.Alerts += part.Alerts
	c.Replies += part.Replies
	c.Silent += part.Silent
}

// live lives one person's days.
func (c *Crowd) live(l *light, p *someone) {
	top, step, said := 0, 0, 0
	held := make([]bool, c.Steps)
	for n := range c.Weeks * 7 {
		d := l.plan.First + rules.Date(n)
		before := l.s
		dec, segments, decided := l.morning(d)
		if decided {
			c.sent(&c.Daily, segments)
			c.Alerts += len(dec.Notices)
			c.trouble(step, before, l.s, dec, held)
			step, top = dec.Step, max(top, dec.Step)
			if text := p.answer(&dec); text != "" {
				said++
				paused := l.s.Pause != nil
				h, segments := l.hear(text, d)
				c.sent(&c.Answers, segments)
				c.Alerts += len(h.Notices)
				if !paused && l.s.Pause != nil && step > 0 {
					c.Trouble[step-1].Pauses++
				}
			}
		}
		if (n+1)%7 == 0 {
			for s := range top {
				c.Reached[n/7][s]++
			}
		}
	}
	c.Replies += said
	if said == 0 {
		c.Silent++
	}
}

func (c *Crowd) sent(kind *int, segments int) {
	if segments == 0 {
		return
	}
	*kind++
	c.Segments += segments
	c.Most = max(c.Most, segments)
}

// trouble counts what a settlement made of the reports, under the step they
// were made in.
func (c *Crowd) trouble(step int, before, after rules.State, dec rules.Decision, held []bool) {
	if step == 0 {
		return
	}
	t := &c.Trouble[step-1]
	if before.Hold == nil && after.Hold != nil {
		t.Holds++
		if !held[step-1] {
			held[step-1] = true
			t.People++
		}
	}
	switch dec.Why.Code {
	case rules.StepBack, rules.BlockAgain:
		t.StepBacks++
	case rules.Waiting:
		t.Waits++
	}
}
