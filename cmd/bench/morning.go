package main

import (
	"math"
	"math/rand/v2"
	"slices"
	"time"

	pace "golang.org/x/time/rate"
)

// sender is a kind of sender with the segments a second that its carrier lets
// it send, and those a day that one network takes; 0: no published bound. The
// source is the carrier's documentation of its rates, of November 2026, or what
// others quote of it.
type sender struct {
	name   string
	rate   float64
	daily  int
	source string
}

const (
	documented = "the carrier's documentation"
	secondHand = "second-hand"
)

var senders = []sender{
	{"long code, United States", 1, 0, documented},
	{"toll-free number", 3, 0, documented + "; by default"},
	{"10DLC, sole proprietor", 1, 1_000, secondHand},
	{"10DLC, low-volume brand", 3.75, 2_000, secondHand + "; all networks together"},
	{"10DLC, trust score 1 to 49", 12, 10_000, secondHand + "; all networks together"},
	{"10DLC, trust score 50 to 74", 120, 40_000, secondHand + "; all networks together"},
	{"10DLC, trust score 75 to 100", 225, 200_000, secondHand + "; all networks together"},
	{"short code", 100, 0, documented + "; over 100"},
}

// times is so many of a sender side by side.
func (s sender) times(k int) sender {
	s.rate *= float64(k)
	s.daily *= k
	return s
}

// A morning as it is played: everybody is due at a quarter of an hour from
// opens to spread after it, and nothing goes out closes after midnight. One
// patient in capped has the network that counts by day.
const (
	opens   = 8 * time.Hour
	spread  = 2 * time.Hour
	slot    = 15 * time.Minute
	closes  = 21 * time.Hour
	capped  = 3
	longest = 12 // segments that a bucket holds at least, as in the service
)

// drain is how long n texts take that are all due at once: what the bucket holds
// goes at once, and the rest at the rate.
func drain(rate float64, n, segments int) time.Duration {
	left := float64(n*segments) - bucket(rate)
	return time.Duration(max(left, 0) / rate * float64(time.Second))
}

func bucket(rate float64) float64 { return max(math.Ceil(rate), longest) }

// text is one that is due.
type text struct {
	due    time.Duration // since midnight
	capped bool          // it goes by the network that counts
}

// dueTexts are those of a morning, in order.
func dueTexts(n int, seed uint64) []text {
	lots := rand.New(rand.NewPCG(seed, 8))
	list := make([]text, n)
	for i := range list {
		list[i] = text{opens + time.Duration(lots.IntN(int(spread/slot)))*slot, lots.IntN(capped) == 0}
	}
	slices.SortStableFunc(list, func(a, b text) int { return int(a.due - b.due) })
	return list
}

// morning plays a day's texts through one sender, and returns when the last goes
// out, how many had to stay behind at its end, and how many more because the
// network had enough; these take nothing from the rate. It paces them by the
// same bucket as the service, on a calendar of its own. sent is told of each that
// goes, if there is somebody to tell.
func (s sender) morning(list []text, segments int, sent func(time.Duration)) (last time.Duration, late, over int) {
	midnight := time.Unix(0, 0)
	limit := pace.NewLimiter(pace.Limit(s.rate), int(bucket(s.rate)))
	goes, counted := time.Duration(0), 0
	for i, t := range list {
		if t.capped && s.daily > 0 {
			if counted+segments > s.daily {
				over++
				continue
			}
			counted += segments
		}
		goes = max(goes, t.due)
		goes += limit.ReserveN(midnight.Add(goes), segments).DelayFrom(midnight.Add(goes))
		if goes >= closes {
			return last, len(list) - i, over
		}
		last = goes
		if sent != nil {
			sent(goes)
		}
	}
	return last, 0, over
}

// needed is how many of a sender it takes that nothing stays behind. It begins
// at what rate and network allow at most, and plays it until that is so.
func (s sender) needed(list []text, segments int) int {
	counted := 0
	for _, t := range list {
		if t.capped {
			counted += segments
		}
	}
	k := int(float64(len(list)*segments) / (bucket(s.rate) + s.rate*(closes-opens).Seconds()))
	if s.daily > 0 {
		k = max(k, counted/s.daily)
	}
	for k = max(k, 1); ; k++ {
		if _, late, over := s.times(k).morning(list, segments, nil); late+over == 0 {
			return k
		}
	}
}

// busiest plays a morning in each of so many clinics with a sender of its own,
// and returns the texts a second of all in the busiest minute, and the time by
// which every last one is out.
func (s sender) busiest(clinics, patients, segments int) (perSecond float64, end time.Duration) {
	minutes := map[time.Duration]int{}
	most := 0
	for clinic := range clinics {
		last, _, _ := s.morning(dueTexts(patients, uint64(clinic)), segments, func(at time.Duration) {
			at = at.Truncate(time.Minute)
			minutes[at]++
			most = max(most, minutes[at])
		})
		end = max(end, last)
	}
	return float64(most) / 60, end
}
