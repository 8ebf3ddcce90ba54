package rehearsal

import (
	"math/rand/v2"
	"strconv"

	"stepgate/rules"
	"stepgate/rules/reply"
)

// adherence is the share of due days on which people do a home program, by
// week: about 79% in weeks 1-2, 67% in weeks 3-6 and 60% in weeks 7-12 of an
// Achilles trial (BJSM 2021;55:486-92). After week 12 it stays there.
func adherence(week int) float64 {
	switch {
	case week <= 2:
		return 0.79
	case week <= 6:
		return 0.67
	}
	return 0.60
}

// All of what follows is invented: simple on purpose, and said where a crowd
// is printed. No figure of it comes from patients.
const (
	inventedFlare    = 0.02 // chance of a flare on a day the exercises are done
	inventedNewFlare = 0.04 // the same in the first seven dates of a later step
	inventedSaysNo   = 0.5  // of the days not done: how many answer "not today"; the others say nothing
	inventedNewDates = 7
)

// inventedBases are the usual scores of the people of a crowd, of twenty.
var inventedBases = [20]int{0, 0, 0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 1, 1, 1, 2, 2, 2, 2, 2}

// inventedFlares is how much a flare adds, from its first day on.
var inventedFlares = [...]int{3, 2, 1}

// someone is one of a crowd.
type someone struct {
	rand    *rand.Rand
	letters reply.Letters
	base    int // usual score
	flaring int // days of the flare lived; len(inventedFlares): none
	step    int
	inStep  int // dates in the step so far
}

func newSomeone(seed uint64, i int, letters reply.Letters) *someone {
	r := rand.New(rand.NewPCG(seed, uint64(i)))
	return &someone{rand: r, letters: letters, base: inventedBases[r.IntN(len(inventedBases))], flaring: len(inventedFlares)}
}

// answer is what someone sends on a decided date, or "".
func (p *someone) answer(dec *rules.Decision) string {
	if p.step != dec.Step {
		p.step, p.inStep = dec.Step, 0
	}
	p.inStep++
	did := p.rand.Float64() < adherence((dec.Day+6)/7)
	score := p.score(did && len(dec.Doses) > 0)
	no := p.rand.Float64() < inventedSaysNo
	if !dec.Send {
		return ""
	}
	due, number := len(dec.Doses) > 0, p.number(dec.Ask, score)
	switch {
	case did && due:
		return p.letters.Done + number
	case did:
		return number
	case due && no:
		return p.letters.None
	}
	return ""
}

// number answers the question asked.
func (p *someone) number(ask rules.Question, score int) string {
	n := strconv.Itoa(score)
	if ask == rules.AskFirstStep {
		return " " + p.letters.First + n
	}
	return n
}

// score is the day's worst pain.
func (p *someone) score(did bool) int {
	chance := inventedFlare
	if p.step > 1 && p.inStep <= inventedNewDates {
		chance = inventedNewFlare
	}
	flares := p.rand.Float64() < chance && did
	if flares && p.flaring >= len(inventedFlares) {
		p.flaring = 0
	}
	n := p.base
	switch p.rand.IntN(4) {
	case 0:
		n--
	case 1:
		n++
	}
	if p.flaring < len(inventedFlares) {
		n += inventedFlares[p.flaring]
		p.flaring++
	}
	return min(max(n, 0), scale)
}
