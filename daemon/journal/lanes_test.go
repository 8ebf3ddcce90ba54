package journal

import (
	"errors"
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

// Of the texts made in one minute nobody's is last much more often than others',
// whether a clinic has few or many, quiet days or lively ones.
func TestLotsTurn(t *testing.T) {
	const days = 2000
	for _, n := range []int{2, 5, 12, 16, 40, 200} {
		for _, others := range []int{0, 1, 3, 7} { // events a patient-day besides the intent
			last, seq := make([]int, n), uint64(1000)
			for range days {
				at, worst := 0, -1
				for i := range n {
					if lot := int(lotOf(seq + uint64(i))); lot >= worst { // of one lot the later
						at, worst = i, lot
					}
				}
				last[at]++
				seq += uint64(n * (1 + others))
			}
			if most, fair := slices.Max(last), days/n; most > 2*fair+20 {
				t.Errorf("%d patients, %d other events each a day: the same one is last on %d of %d days", n, others, most, days)
			}
		}
	}
}

// Those that come one after the other are handed over one after the other: what
// they change lies together.
func TestLotsStayTogether(t *testing.T) {
	for run := range uint64(1000) {
		for seq := run * 16; seq < run*16+16; seq++ {
			if lotOf(seq)/16 != lotOf(run*16)/16 {
				t.Fatalf("event %d is away from %d", seq, run*16)
			}
		}
	}
}

// What a look at a message gave is the caller's, also where an event about it
// follows in the same update.
func TestRowIsKept(t *testing.T) {
	j := openNew(t)
	mustAdd(t, j, Event{Kind: Intended, Out: &Out{Key: "m", Kind: "alert", Channel: "spool", To: "clinic", Text: "x", Made: day, Alerts: []uint64{900, 901}}})
	err := j.Update(t.Context(), func(tx *Tx) error {
		r, err := tx.Progress("m")
		if err != nil {
			return err
		}
		slices.Reverse(r.Alerts)
		e := handed("", "m")
		e.At = day
		_, err = tx.Append(e)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	checkWhole(t, j)
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
