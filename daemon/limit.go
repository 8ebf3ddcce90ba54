package daemon

import (
	"sync"
	"time"

	"stepgate/rules"
	"stepgate/rules/reply"
)

// maxAnswers is how many answers one contact gets a day. It stops two
// machines from talking to each other; no patient comes near it. What comes
// in past it is still read, kept and told.
const maxAnswers = 40

// answerLimit counts answers by contact for one UTC date, in memory only.
type answerLimit struct {
	mu   sync.Mutex
	day  rules.Date
	sent map[string]int
}

func (s *Service) mayAnswer(contact string, now time.Time) bool {
	l := &s.limit
	l.mu.Lock()
	defer l.mu.Unlock()
	if d := rules.DateOf(now.UTC()); d != l.day || l.sent == nil {
		l.day, l.sent = d, map[string]int{}
	}
	l.sent[contact]++
	return l.sent[contact] <= maxAnswers
}

// reader reads a language's texts; English where a language has none.
func (s *Service) reader(lang string) *reply.Reader {
	if r, ok := s.readers[lang]; ok {
		return r
	}
	return s.readers["en"]
}
