package journal

import (
	"encoding/hex"
	"errors"
	"io/fs"
	"path/filepath"
	"reflect"
	"slices"
	"testing"
)

func pruned(t testing.TB, j *Journal) (n int) {
	t.Helper()
	err := j.Update(t.Context(), func(tx *Tx) (err error) { n, err = tx.PruneFiles(day, isPeople); return err })
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// kept tells which contents are still there.
func kept(t testing.TB, j *Journal, contents ...string) (list []string) {
	t.Helper()
	view(t, j, func(tx *Tx) error {
		for _, s := range contents {
			data, err := tx.File(hex.EncodeToString(hashed(s)))
			switch {
			case err == nil && string(data) == s:
				list = append(list, s)
			case !errors.Is(err, fs.ErrNotExist):
				t.Errorf("%q: %q, %v", s, data, err)
			}
		}
		return nil
	})
	return list
}

func TestPruneFiles(t *testing.T) {
	j := open(t, filepath.Join(t.TempDir(), "journal.db"))
	sets := [][]string{
		{"stepgate.yaml", "c1", "programs/a.yaml", "a1", "enrollments/robin-smith.yaml", "robin", "enrollments/sam.yaml", "sam"},
		{"stepgate.yaml", "c1", "programs/a.yaml", "a2", "enrollments/r1.yaml", "robin", "enrollments/sam.yaml", "sam"},
		{"stepgate.yaml", "c2", "programs/a.yaml", "a2", "enrollments/r1.yaml", "robin"},
		{"stepgate.yaml", "c3", "enrollments/r1.yaml", "robin"},
	}
	all := []string{"c1", "a1", "robin", "sam", "a2", "c2", "c3"}
	want := func(step string, n, sets int, gone ...string) {
		t.Helper()
		left := slices.DeleteFunc(slices.Clone(all), func(s string) bool { return slices.Contains(gone, s) })
		if got := pruned(t, j); got != n {
			t.Errorf("%s: %d contents went, want %d", step, got, n)
		}
		if got := kept(t, j, all...); !reflect.DeepEqual(got, left) {
			t.Errorf("%s: kept %v, want %v", step, got, left)
		}
		if rep := checkWhole(t, j); rep.Pruned != sets {
			t.Errorf("%s: report %+v, want %d sets gone", step, rep, sets)
		}
	}
	if pruned(t, j) != 0 || lastSeq(t, j) != 0 {
		t.Error("something went from an empty journal")
	}
	for i, files := range sets {
		if err := accept(j, files...); err != nil {
			t.Fatal(err)
		}
		if i == 0 {
			all = []string{"c1", "a1", "robin", "sam"}
			want("all is new", 0, 0)
			all = []string{"c1", "a1", "robin", "sam", "a2", "c2", "c3"}
		}
	}
	// The first set names a path that is no more, both of the first name Sam.
	want("sam left", 1, 2, "sam")
	before := lastSeq(t, j)
	want("nothing new", 0, 2, "sam")
	if lastSeq(t, j) != before {
		t.Error("an event about nothing")
	}
	// A file that comes back is kept again, and goes again.
	for _, files := range [][]string{{"stepgate.yaml", "c3", "enrollments/sam.yaml", "sam"}, {"stepgate.yaml", "c3"}} {
		if err := accept(j, files...); err != nil {
			t.Fatal(err)
		}
	}
	want("everybody left", 2, 5, "sam", "robin")
	if err := j.Rebuild(); err != nil {
		t.Fatal(err)
	}
	checkWhole(t, j)
	view(t, j, func(tx *Tx) error {
		var got []string
		err := tx.Events("", func(e Event) error {
			if e.Kind == Pruned {
				for _, f := range e.Files {
					got = append(got, f.Path)
				}
			}
			return nil
		})
		if want := []string{"stepgate.yaml", "programs/a.yaml", "programs/a.yaml", "stepgate.yaml"}; !reflect.DeepEqual(got, want) {
			t.Errorf("kept by name %v, want %v", got, want)
		}
		return errors.Join(err, tx.All(func(Event) error { return nil }))
	})
}

// What lies under the clinic's key is found, in whatever case.
func TestMentions(t *testing.T) {
	j := lottiesJournal(t, filepath.Join(t.TempDir(), "journal.db"))
	mustAdd(t, j, Event{Kind: Heard, In: &In{Channel: "sms", ID: "1", Text: "this is LOTTIE from \"next\" door"}})
	err := j.Update(t.Context(), func(tx *Tx) error { return tx.Erase("lottie-9", day, "", "") })
	if err != nil {
		t.Fatal(err)
	}
	file := hex.EncodeToString(hashed(withLottie))
	for word, want := range map[string][]Mention{
		"Lottie":       {{Seq: 28, Kind: Heard}, {File: file}},
		`from "next"`:  {{Seq: 28, Kind: Heard}},
		"heel burns":   nil,
		"+12025550177": {{File: file}},
		"":             nil,
	} {
		view(t, j, func(tx *Tx) error {
			got, err := tx.Mentions([]string{word})
			if !reflect.DeepEqual(got, want) {
				t.Errorf("%q: %v, want %v", word, got, want)
			}
			return err
		})
	}
}
