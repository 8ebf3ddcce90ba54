package rehearsal

import (
	"bytes"
	"context"
	"flag"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"stepgate/config"
	"stepgate/rules"
	"stepgate/rules/reply"
	"stepgate/templates"
)

var update = flag.Bool("update", false, "write the golden files anew; read the difference as a clinician would")

// words are read once for all tests; they are safe to share.
var words = sync.OnceValue(func() *templates.Set {
	set, err := templates.New()
	if err != nil {
		panic(err)
	}
	return set
})

// march is a Monday; the clocks of Chicago go forward on its sixth day after.
var march = rules.NewDate(2026, time.March, 2)

// clinic loads a clinic folder of the project's testdata.
func clinic(t testing.TB, name string) *config.Clinic {
	t.Helper()
	c, problems := config.Load(filepath.Join("..", "..", "testdata", name), os.Getenv)
	if c == nil {
		t.Fatal(problems)
	}
	return c
}

// planned lays out a rehearsal with the replies of a CSV file.
func planned(t testing.TB, c *config.Clinic, want Wanted, csv string) *Plan {
	t.Helper()
	plan, err := NewPlan(c, want)
	if err != nil {
		t.Fatal(err)
	}
	replies, problems := config.ReadReplies(config.NewFile("replies.csv", []byte(csv)), plan.Program, plan.Days)
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	plan.Replies = replies
	return plan
}

// played plays a rehearsal.
func played(t testing.TB, plan *Plan) []Day {
	t.Helper()
	days, err := Run(context.Background(), words(), plan)
	if err != nil {
		t.Fatal(err)
	}
	if len(days) != plan.Days {
		t.Fatalf("%d days came of %d", len(days), plan.Days)
	}
	return days
}

// demoPlan is the demo's program from the second of March, 2026.
func demoPlan(t testing.TB, weeks int, csv string) *Plan {
	t.Helper()
	return planned(t, clinic(t, "demo"), Wanted{Program: "steady-arches", Start: march, Weeks: weeks}, "day,time,text\n"+csv)
}

func read(t testing.TB, path ...string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(path...))
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// golden holds output against testdata/rehearse.
func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("..", "..", "testdata", "rehearse", name)
	if *update {
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if want := read(t, path); !bytes.Equal(got, want) {
		t.Errorf("%s differs; rewrite it with go test ./daemon/rehearsal -update and read the difference.\ngot:\n%s", name, got)
	}
}

// speaking is a language as the crowds need it.
type speaking struct {
	reader  *reply.Reader
	letters reply.Letters
}

func readerFor(t testing.TB) speaking {
	t.Helper()
	v, err := templates.Vocabulary("en")
	if err != nil {
		t.Fatal(err)
	}
	r, err := v.Compile()
	if err != nil {
		t.Fatal(err)
	}
	return speaking{r, v.Letters}
}
