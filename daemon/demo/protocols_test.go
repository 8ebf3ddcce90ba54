package demo_test

import (
	"context"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"stepgate/config"
	"stepgate/daemon"
	"stepgate/daemon/journal"
	"stepgate/notify"
	"stepgate/rules"
	"stepgate/templates"
)

// course is one patient on a published protocol: the real service, journal and
// spool on a clock that is set.
type course struct {
	t     *testing.T
	zone  *time.Location
	start rules.Date
	spool string
	clock *daemon.SetClock
	svc   *daemon.Service
	seen  map[string]bool // messages read so far
	drops int
}

// begin enrolls a patient. The clocks go forward on day 14 of the course
// (2026-03-08 in New York): no dose may come twice or not at all for that.
func begin(t *testing.T, program string) *course {
	t.Helper()
	dir := t.TempDir()
	file, err := os.ReadFile(filepath.Join("..", "..", "testdata", "protocols", program+".yaml"))
	if err != nil {
		t.Fatal(err)
	}
	files := map[string]string{
		"programs/" + program + ".yaml": string(file),
		"stepgate.yaml": `clinic:
  name: Harbor Foot Clinic
  phone: 212-555-0142
  hours: Mon-Fri 8:30-17:00
  after hours: 212-555-0199
  emergency: 911
  zone: America/New_York
alerts: {spool: clinician}
`,
		"enrollments.yaml": fmt.Sprintf(`enrollments:
  - id: p-01
    name: Rosa
    program: %s
    dispensed: 2026-02-23
    affected: left
    consent: {on: 2026-02-23, how: in writing, by: J. Marlowe DPM}
    spool: rosa
    time: "09:00"
`, program),
	}
	for name, text := range files {
		path := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	c, problems := config.Load(dir, func(string) string { return "" })
	if c == nil || len(problems) != 1 || !strings.Contains(problems[0].What, "not approved") {
		t.Fatalf("the program has problems beside that nobody approved it:\n%v", problems)
	}
	return open(t, c)
}

func open(t *testing.T, c *config.Clinic) *course {
	t.Helper()
	if err := os.MkdirAll(c.Data, 0o700); err != nil {
		t.Fatal(err)
	}
	j, err := journal.Open(filepath.Join(c.Data, "journal.db"), journal.Options{NoSync: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if _, err := j.Verify(); err != nil {
			t.Errorf("the journal: %v", err)
		}
		if err := j.Close(); err != nil {
			t.Error(err)
		}
	})
	words, err := templates.New()
	if err != nil {
		t.Fatal(err)
	}
	x := &course{t: t, zone: c.Zone, start: c.Enrollments[0].Start, clock: &daemon.SetClock{}, seen: map[string]bool{},
		spool: filepath.Join(c.Spool.Dir, "rosa")}
	x.set(1, 7)
	log := slog.New(slog.DiscardHandler)
	spool := notify.NewSpool(c.Spool.Dir, notify.SpoolOptions{Log: log, Now: x.clock.Now})
	x.svc, err = daemon.NewService(daemon.Options{Journal: j, Words: words, Log: log, Clock: x.clock, Made: true,
		Channels: map[string]daemon.Channel{"spool": {Sender: spool, Receive: spool}}})
	if err != nil {
		t.Fatal(err)
	}
	if err := x.svc.Accept(context.Background(), c); err != nil {
		t.Fatal(err)
	}
	return x
}

// set puts the clock to an hour of a day of the course, counted from 1.
func (x *course) set(day, hour int) {
	y, m, d := (x.start + rules.Date(day) - 1).Civil()
	x.clock.Set(time.Date(y, m, d, hour, 0, 0, 0, x.zone))
}

// tick is what the running service does once a minute.
func (x *course) tick() {
	x.t.Helper()
	ctx := context.Background()
	x.svc.Collect(ctx)
	if err := x.svc.Tick(ctx); err != nil {
		x.t.Fatal(err)
	}
	if err := x.svc.SendWaiting(ctx); err != nil {
		x.t.Fatal(err)
	}
}

// live plays the days of a course, a tick every three hours, and returns the
// daily text of each, empty where none was written. reply is the answer of
// each evening.
func (x *course) live(days int, reply func(day int) string) []string {
	x.t.Helper()
	texts := make([]string, days+1) // by day; none has number 0
	for day := 1; day <= days; day++ {
		for hour := 0; hour < 24; hour += 3 {
			x.set(day, hour)
			if hour == 18 {
				x.drop(reply(day))
			}
			x.tick()
			for _, text := range x.arrived() {
				if !strings.HasPrefix(text, x.clock.Now().Format("Mon Jan 2")) {
					continue // an answer
				}
				if texts[day] != "" || hour != 9 {
					x.t.Fatalf("day %d at %d:00: a daily text\n%s\nafter\n%s", day, hour, text, texts[day])
				}
				texts[day] = text
			}
		}
	}
	return texts
}

// drop answers as the patient's phone does.
func (x *course) drop(text string) {
	x.t.Helper()
	x.drops++
	in := filepath.Join(x.spool, "in")
	if err := os.MkdirAll(in, 0o700); err != nil {
		x.t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(in, fmt.Sprintf("%04d.txt", x.drops)), []byte(text+"\n"), 0o600); err != nil {
		x.t.Fatal(err)
	}
}

// arrived are the messages written to the spool since the last look.
func (x *course) arrived() []string {
	x.t.Helper()
	names, err := filepath.Glob(filepath.Join(x.spool, "out", "*.txt"))
	if err != nil {
		x.t.Fatal(err)
	}
	var texts []string
	for _, name := range names {
		if x.seen[name] {
			continue
		}
		x.seen[name] = true
		b, err := os.ReadFile(name)
		if err != nil {
			x.t.Fatal(err)
		}
		texts = append(texts, string(b))
	}
	return texts
}

// dose is how much of one exercise a text asks for.
type dose struct{ sessions, sets, reps, hold int }

func (d dose) perDay() int { return d.sessions * d.sets * d.reps }

const amountForm = `(?:(\d+) times a day, )?(?:(\d+) rounds of (\d+)|(\d+) times), left leg(?:, hold (\d+) seconds)?`

var (
	amountEach = regexp.MustCompile(`(?m)^Do each one ` + amountForm + `:$`)
	amountOwn  = regexp.MustCompile(`(?m)^(?:\d+\) )?[A-Z][^:\n]+: ` + amountForm + `\.$`)
	listed     = regexp.MustCompile(`(?m)^\d+\) [A-Z]`)
)

// doses reads a daily text as a patient does: it knows nothing but the words.
func doses(t *testing.T, text string) []dose {
	t.Helper()
	n := func(s, otherwise string) int {
		if s == "" {
			s = otherwise
		}
		v, err := strconv.Atoi(s)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	read := func(m []string) dose {
		return dose{n(m[1], "1"), n(m[2], "1"), n(m[3]+m[4], ""), n(m[5], "0")}
	}
	if m := amountEach.FindStringSubmatch(text); m != nil {
		return slices.Repeat([]dose{read(m)}, len(listed.FindAllString(text, -1)))
	}
	var list []dose
	for _, m := range amountOwn.FindAllStringSubmatch(text, -1) {
		list = append(list, read(m))
	}
	return list
}

func everyDay(reply string) func(int) string { return func(int) string { return reply } }

// tension is the time under tension of a session of high-load training in
// seconds: 3 s up, 2 s hold, 3 s down a repetition (Rathleff 2015).
func tension(d dose) int { return d.sets * d.reps * (3 + 2 + 3) }

// TestHighLoadTraining holds what is texted in twelve weeks against Rathleff MS
// et al., Scand J Med Sci Sports 2015;25(3):e292-300: every second day for 12
// weeks; weeks 1-2: 3 x 12, weeks 3-4: 4 x 10, from week 5 on: 5 x 8.
func TestHighLoadTraining(t *testing.T) {
	t.Parallel()
	texts := begin(t, "high-load").live(12*7, everyDay("D1"))
	published := func(week int) (sets, reps, seconds int) {
		switch {
		case week <= 2:
			return 3, 12, 288
		case week <= 4:
			return 4, 10, 320
		}
		return 5, 8, 320
	}
	sessions := 0
	for day := 1; day <= 12*7; day++ {
		week := (day-1)/7 + 1
		sets, reps, seconds := published(week)
		if day%2 == 0 {
			if texts[day] != "" {
				t.Errorf("week %d, day %d is no training day and has a text:\n%s", week, day, texts[day])
			}
			continue
		}
		sessions++
		got := doses(t, texts[day])
		if want := []dose{{1, sets, reps, 2}}; !slices.Equal(got, want) {
			t.Fatalf("week %d, day %d: doses %+v, want %+v in\n%s", week, day, got, want, texts[day])
		}
		if s := tension(got[0]); s != seconds {
			t.Errorf("week %d, day %d: %d s under tension, want %d", week, day, s, seconds)
		}
	}
	if sessions != 42 { // derived: every second day of 84
		t.Errorf("%d sessions in twelve weeks, want 42", sessions)
	}
}

// TestHighLoadTrainingHeld lets the patient report pain 5 on day 13. The step
// waits until a week without a score over steady lies behind (that of day 13
// is the last of them, so days 14 to 20), and the training days stay where
// they were: every second day from the start, however long the step waited.
func TestHighLoadTrainingHeld(t *testing.T) {
	t.Parallel()
	texts := begin(t, "high-load").live(12*7, func(day int) string {
		if day == 13 {
			return "D P5"
		}
		return "D1"
	})
	// 4 x 10 begins on day 21 instead of 15, so 5 x 8 on day 35 instead of 29:
	// the step of two weeks is still two weeks long.
	want := func(day int) dose {
		switch {
		case day < 21:
			return dose{1, 3, 12, 2}
		case day < 35:
			return dose{1, 4, 10, 2}
		}
		return dose{1, 5, 8, 2}
	}
	sessions := 0
	for day := 1; day <= 12*7; day++ {
		got := doses(t, texts[day])
		switch {
		case day%2 == 1:
			sessions++
			if !slices.Equal(got, []dose{want(day)}) {
				t.Fatalf("day %d: doses %+v, want %+v in\n%s", day, got, want(day), texts[day])
			}
		case day == 14: // the morning after: a rest day, with the question
			if !strings.Contains(texts[day], "Rest day: no exercises today.") || !strings.Contains(texts[day], "How is the pain now, 0-10?") || len(got) != 0 {
				t.Errorf("day %d, after pain 5:\n%s", day, texts[day])
			}
		case texts[day] != "":
			t.Errorf("day %d is no training day and has a text:\n%s", day, texts[day])
		}
	}
	if sessions != 42 {
		t.Errorf("%d training days in twelve weeks, want 42", sessions)
	}
}

// TestFasciaStretch holds four weeks against DiGiovanni BF et al., J Bone Joint
// Surg Am 2003 and 2006;88(8):1775-81: hold 10 s, 10 repetitions, 3 sessions a
// day, every day; 30 repetitions and 300 s a foot a day.
func TestFasciaStretch(t *testing.T) {
	t.Parallel()
	texts := begin(t, "fascia-stretch").live(4*7, everyDay("D1"))
	for day := 1; day <= 4*7; day++ {
		got := doses(t, texts[day])
		if want := []dose{{3, 1, 10, 10}}; !slices.Equal(got, want) {
			t.Fatalf("day %d: doses %+v, want %+v in\n%s", day, got, want, texts[day])
		}
		if reps, seconds := got[0].perDay(), got[0].perDay()*got[0].hold; reps != 30 || seconds != 300 {
			t.Errorf("day %d: %d repetitions and %d s, want 30 and 300", day, reps, seconds)
		}
	}
}

// TestHeelDrops holds twelve weeks against Alfredson H et al., Am J Sports Med
// 1998;26(3):360-6: 3 x 15, twice a day, 7 days a week, knee straight and knee
// bent. 180 a day: as summed in Stevens and Tan 2014;
// 15,120 in 84 days is derived.
func TestHeelDrops(t *testing.T) {
	t.Parallel()
	texts := begin(t, "heel-drops").live(12*7, everyDay("D1"))
	total := 0
	for day := 1; day <= 12*7; day++ {
		got := doses(t, texts[day])
		if want := []dose{{2, 3, 15, 0}, {2, 3, 15, 0}}; !slices.Equal(got, want) {
			t.Fatalf("day %d: doses %+v, want %+v in\n%s", day, got, want, texts[day])
		}
		drops := 0
		for _, d := range got {
			drops += d.perDay()
		}
		if drops != 180 {
			t.Errorf("day %d: %d heel drops, want 180", day, drops)
		}
		total += drops
	}
	if total != 15_120 {
		t.Errorf("%d heel drops in twelve weeks, want 15,120", total)
	}
}
