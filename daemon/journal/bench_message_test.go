package journal

import (
	"context"
	"fmt"
	"testing"
	"time"

	"stepgate/rules"
)

// One text of a day through its three events (Intended, HandedOut, Settled),
// 256 to a commit as the service has them and without a sync: what the writer
// itself costs a message.
func BenchmarkMessage(b *testing.B) {
	const people, lot = 10_000, 256
	j := crowd(b, people)
	b.ReportAllocs()
	b.ResetTimer()
	for done := 0; done < b.N; done += lot {
		n := min(lot, b.N-done)
		for _, step := range []func(i int) Event{intendedText, handedText, settledText} {
			err := j.Update(context.Background(), func(tx *Tx) error {
				for i := done; i < done+n; i++ {
					if err := firstErr(tx.Append(step(i))); err != nil {
						return err
					}
				}
				return nil
			})
			if err != nil {
				b.Fatal(err)
			}
		}
	}
}

// texted is the person and the date of the i-th text.
func texted(i int) (id, key string, date rules.Date) {
	id, date = fmt.Sprintf("p%06d", i%10_000), rules.Date(20732+i/10_000)
	return id, "day/" + id + "/" + date.String(), date
}

func textedAt(date rules.Date) time.Time { return day.AddDate(0, 0, int(date-20731)) }

// intendedText is a text of the size that a starter program has.
func intendedText(i int) Event {
	id, key, date := texted(i)
	at := textedAt(date)
	due := at.Add(24 * time.Hour)
	rev := 1 + i/10_000
	score := 2
	dec := rules.Decision{Date: date, Day: 17, P: 15, W: 12, Step: 3, Steps: 6, State: rules.InActive,
		Why:     rules.Reason{Code: "same week", Rule: "advance", At: rules.Pos{File: "programs/steady-arches.yaml", Line: 31, Column: 5}, Have: 5, Need: 6},
		WearWhy: rules.Reason{Code: rules.WearFull, Rule: "wear", At: rules.Pos{File: "programs/steady-arches.yaml", Line: 52, Column: 3}},
		Wear:    6 * time.Hour, WearNow: true, Send: true, Ask: rules.AskFirstStep,
		Doses: []rules.Due{
			{Exercise: "wall-calf-stretch", Side: "each", Sets: 1, Reps: 3, Hold: 30 * time.Second, Sessions: 2},
			{Exercise: "towel-curls", Side: "affected", Sets: 2, Reps: 10, Sessions: 1},
			{Exercise: "heel-raises", Side: "both", Sets: 3, Reps: 12, Sessions: 1, Form: "on two legs", Rest: 60 * time.Second,
				Tempo: rules.Tempo{Up: 3, Hold: 2, Down: 3}},
		}}
	next := rules.State{Rev: rev + 1, Program: "steady-arches", Edition: "8f14e45fceea", Decided: date, P: 15, W: 12, Week: 3,
		Base: date - 14, Due: true, Sent: true, WearMin: 360, Window: date - 4, Quiet: 1, Blank: 1, Mute: 1, Gap: 1, Told: date,
		Firsts: []int{4, 3, 3}, StepAsk: date - 3, Reach: true, Greeted: true, Asked: rules.AskFirstStep, Last: "same week"}
	for d := range rules.Date(4) {
		next.Days = append(next.Days, rules.DayLog{Date: date - 4 + d, Due: true, Halves: 2, Score: &score, Any: true})
	}
	return Event{Kind: Intended, ID: id, At: at, Due: &due, Out: &Out{Key: key, Kind: "daily", Channel: "sms", From: "+12025550100",
		To: "+12025550142", Text: "Sam, Mon Oct 5, day 17.\nWall calf stretch: 2 times a day, 3 times each leg, hold 30 seconds.\n" +
			"Towel curls: 2 sets of 10. Heel raises: 3 sets of 12.\nDevices: 6 hours. First step pain 0-10? Elm Street Foot Care",
		Made: at, Until: at.Add(6 * time.Hour), Rank: 2, Segments: 2, Rev: rev, Decision: &dec, Next: &next}}
}

func handedText(i int) Event {
	id, key, date := texted(i)
	return Event{Kind: HandedOut, ID: id, At: textedAt(date).Add(time.Minute), Key: key}
}

func settledText(i int) Event {
	id, key, date := texted(i)
	return Event{Kind: Settled, ID: id, At: textedAt(date).Add(2 * time.Minute), Key: key,
		Result: &Result{Status: "sent", ID: fmt.Sprintf("SM%032x", i)}}
}
