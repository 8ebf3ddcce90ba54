package journal

import (
	"errors"
	"fmt"
	"slices"
	"testing"
	"time"
)

const ours = "+12025550100"

func text(key string, rank int, made time.Time) Event {
	return Event{Kind: Intended, Out: &Out{Key: key, Kind: "answer", Channel: "sms", From: ours, To: "+12025550142",
		Text: "x", Made: made, Rank: rank, Segments: 2}}
}

func keysOf(rows []Row) (keys []string) {
	for _, r := range rows {
		keys = append(keys, r.Key)
	}
	return keys
}

// Texts go by rank, within a rank by the minute they were made, and within a
// minute by a lot that is another one every day. Retries come by their time,
// and one that waits for its time keeps nobody of another rank waiting.
func TestLaneOrder(t *testing.T) {
	j := openNew(t)
	mustAdd(t, j, text("late", 2, day.Add(time.Minute)), text("early", 2, day), text("urgent", 0, day.Add(2*time.Minute)), text("first", 1, day),
		handed("", "first"), Event{Kind: Settled, Key: "first", Result: &Result{Status: "retry", Retry: day.Add(time.Hour)}})
	other := text("other", 0, day)
	other.Out.From = "+12025550101"
	mustAdd(t, j, other, Event{Kind: Intended, Out: &Out{Key: "spool", Kind: "alert", Channel: "spool", To: "clinic", Text: "x", Made: day}})
	view(t, j, func(tx *Tx) error {
		if got, want := tx.Lanes(), []string{"sms/" + ours, "sms/+12025550101", "spool"}; !slices.Equal(got, want) {
			t.Errorf("lanes %q, want %q", got, want)
		}
		now, err1 := tx.Waiting("sms/"+ours, day.Add(2*time.Minute), 0)
		later, err2 := tx.Waiting("sms/"+ours, day.Add(time.Hour), 2)
		if got, want := keysOf(now), []string{"urgent", "early", "late"}; !slices.Equal(got, want) {
			t.Errorf("waiting %q, want %q", got, want)
		}
		if got, want := keysOf(later), []string{"urgent", "first"}; !slices.Equal(got, want) {
			t.Errorf("an hour later %q, want %q", got, want)
		}
		if n, segments := tx.Backlog("sms/" + ours); n != 4 || segments != 8 {
			t.Errorf("backlog %d messages, %d segments", n, segments)
		}
		return errors.Join(err1, err2)
	})
}

// Of many texts made in one minute, who is last changes from day to day.
func TestLotsChange(t *testing.T) {
	j := openNew(t)
	last := map[string]bool{}
	for d := range 5 {
		for n := range 20 {
			mustAdd(t, j, text(fmt.Sprintf("day/p-%02d/%d", n, d), 2, day.AddDate(0, 0, d)))
		}
		view(t, j, func(tx *Tx) error {
			rows, err := tx.Waiting("sms/"+ours, day.AddDate(0, 0, d), 0)
			last[rows[len(rows)-1].Key[len("day/"):len("day/p-00")]] = true
			return err
		})
	}
	if len(last) < 2 {
		t.Errorf("the last of the day was always %v", last)
	}
}

// Other news is taken only if it says more; no order of the same news ends
// otherwise.
func TestNews(t *testing.T) {
	all := []string{NoNews, Undelivered, Delivered, Undelivered, NoNews}
	for turn := range all {
		j := openNew(t)
		mustAdd(t, j, text("k", 0, day), handed("", "k"), settle("", "k", "sent"))
		for i := range all {
			news := all[(i+turn)%len(all)]
			var isNews bool
			view(t, j, func(tx *Tx) error {
				r, err := tx.Row("k")
				isNews = r.IsNews(news)
				return err
			})
			err := add(j, Event{Kind: Delivery, Key: "k", Result: &Result{Status: news}})
			if isNews != (err == nil) || err != nil && !errors.Is(err, ErrInvalid) {
				t.Fatalf("%s from turn %d: %v, IsNews %v", news, turn, err, isNews)
			}
		}
		view(t, j, func(tx *Tx) error {
			r, err := tx.Row("k")
			watched, err2 := tx.Watched(day.Add(time.Hour), 0)
			if r.News != Delivered || len(watched) != 0 {
				t.Errorf("turn %d ends in %q, %d watched", turn, r.News, len(watched))
			}
			return errors.Join(err, err2)
		})
	}
}
