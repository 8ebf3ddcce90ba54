package demo_test

import (
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// dose is how much of one exercise a text asks for. What a text does not say is
// 0; sessions and sets are then 1.
type dose struct {
	sessions, sets, reps, hold int
	up, stay, down             int // the tempo, in seconds
	rm                         int // the most times the weight can be lifted
}

func (d dose) perDay() int { return d.sessions * d.sets * d.reps }

// tension is the time under tension of a session in seconds.
func (d dose) tension() int { return d.sets * d.reps * (d.up + d.stay + d.down) }

// The legs a text can name, and a dose as it is written. Whatever else a dose
// says makes the line unread, and the test fail.
const (
	legs       = `(?: each leg, taking turns| each leg|, both legs at once|, left leg)`
	amountForm = `(?:(\d+) times a day, )?(?:(\d+) rounds of (\d+)|(\d+) times)` + legs +
		`(?:, hold (\d+) seconds)?(?:, (\d+) seconds up, hold (\d+), (\d+) down)?(?:, a weight you can lift (\d+) times)?`
)

var (
	amountEach = regexp.MustCompile(`^Do each one ` + amountForm + `:$`)
	sessions   = regexp.MustCompile(`^Do these (\d+) times a day:$`)
	amountOwn  = regexp.MustCompile(`^(?:\d\) )?([A-Z][^:]+): ` + amountForm + `\.$`)
	amountSame = regexp.MustCompile(`^\d\) ([A-Z][^:]+): the same\.$`)
	named      = regexp.MustCompile(`^\d\) ([A-Z][^:]+)\.$`)
)

// ask is one exercise of a text.
type ask struct {
	name string
	dose
}

// asks reads a daily text as a patient does: it knows nothing but the words.
func asks(t *testing.T, text string) []ask {
	t.Helper()
	n := func(s string, otherwise int) int {
		if s == "" {
			return otherwise
		}
		v, err := strconv.Atoi(s)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	read := func(m []string) dose {
		return dose{n(m[0], 1), n(m[1], 1), n(m[2]+m[3], 0), n(m[4], 0), n(m[5], 0), n(m[6], 0), n(m[7], 0), n(m[8], 0)}
	}
	var list []ask
	var each dose
	times := 1
	for line := range strings.Lines(text) {
		line = strings.TrimRight(line, "\n")
		if m := amountEach.FindStringSubmatch(line); m != nil {
			each = read(m[1:])
		} else if m := sessions.FindStringSubmatch(line); m != nil {
			times = n(m[1], 1)
		} else if m := amountOwn.FindStringSubmatch(line); m != nil {
			d := read(m[2:])
			d.sessions *= times
			list = append(list, ask{m[1], d})
		} else if m := amountSame.FindStringSubmatch(line); m != nil {
			list = append(list, ask{m[1], list[len(list)-1].dose})
		} else if m := named.FindStringSubmatch(line); m != nil {
			list = append(list, ask{m[1], each})
		}
	}
	return list
}

// doses are the doses of a text alone.
func doses(t *testing.T, text string) []dose {
	t.Helper()
	var list []dose
	for _, a := range asks(t, text) {
		list = append(list, a.dose)
	}
	return list
}

var worn = regexp.MustCompile(`(?m)^(?:Wear your inserts|Inserts:) (?:(\d+) hours? ?)?(?:(\d+) minutes )?today\.$`)

// wear is how many minutes a text asks the devices to be worn; 0: it names none.
func wear(t *testing.T, text string) int {
	t.Helper()
	m := worn.FindStringSubmatch(text)
	if m == nil {
		return 0
	}
	minutes := 0
	for i, unit := range []int{60, 1} {
		if m[i+1] != "" {
			v, err := strconv.Atoi(m[i+1])
			if err != nil {
				t.Fatal(err)
			}
			minutes += v * unit
		}
	}
	return minutes
}
