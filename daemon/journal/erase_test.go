package journal

import (
	"bytes"
	"context"
	"encoding/hex"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	bolt "go.etcd.io/bbolt"

	"stepgate/rules"
)

// lotties are words that only Lottie's events and file hold.
var lotties = []string{"lottie-9", "Lottie", "+12025550177", "lottie@example.com", "Wobble board", "my heel burns", "lotties-text", "SMLOTTIE"}

func isPeople(path string) bool { return strings.HasPrefix(path, "enrollments") }

// accept keeps files, by path and content, and accepts them.
func accept(j *Journal, files ...string) error {
	return j.Update(context.Background(), func(tx *Tx) error {
		var refs []FileRef
		for i := 0; i < len(files); i += 2 {
			hash, err := tx.PutFile([]byte(files[i+1]))
			if err != nil {
				return err
			}
			refs = append(refs, FileRef{Path: files[i], Hash: hash})
		}
		return firstErr(tx.Append(Event{Kind: Accepted, At: day, Files: refs}))
	})
}

// lottiesLife is what can happen to a person, with something of it in every
// derived bucket, beside others and the clinic.
func lottiesLife(contact []byte) []Event {
	const id = "lottie-9"
	text := func(key string) Event {
		return Event{Kind: Intended, ID: id, Out: &Out{Key: "lotties-text/" + key, Kind: "daily", Channel: "sms", From: "+12025550100",
			To: "+12025550177", Text: "Wobble board: 2 times.", Subject: "For Lottie", HTML: "<p>Wobble board</p>", Made: day, Segments: 3}}
	}
	other := text("x")
	other.ID, other.Out.Key = "p1", "p1/x"
	other.Out.To, other.Out.Text, other.Out.Subject, other.Out.HTML = "+12025550142", "Rest day.", "", ""
	key := func(k string) string { return "lotties-text/" + k }
	st := &rules.State{Rev: 4, Program: "steady-arches", Heard: rules.Heard{Any: true}}
	return []Event{
		enroll("p1", day), enroll(id, day), other, handed("p1", "p1/x"),
		text("sent"), handed(id, key("sent")), {Kind: Settled, ID: id, Key: key("sent"), Result: &Result{Status: "sent", ID: "SMLOTTIE"}},
		text("news"), handed(id, key("news")), {Kind: Settled, ID: id, Key: key("news"), Result: &Result{Status: "sent", ID: "SMLOTTIE2"}},
		{Kind: Delivery, ID: id, Key: key("news"), Result: &Result{Status: Undelivered}},
		text("look"), handed(id, key("look")), {Kind: Settled, ID: id, Key: key("look"), Result: &Result{Status: "unknown", Retry: day.Add(time.Hour)}},
		text("flying"), handed(id, key("flying")), text("waits"), text("back"), {Kind: Withdrawn, ID: id, Key: key("back"), Why: "stop"},
		text("back"),
		{Kind: Heard, ID: id, State: st, In: &In{Channel: "sms", ID: "SMLOTTIE3", From: "+12025550177", Text: "my heel burns P7"}},
		{Kind: Alerted, ID: id, Alert: &Alert{Key: "pause/lottie-9/1", To: "clinician", Quote: "my heel burns", Due: day}},
		{Kind: Intended, Out: &Out{Key: "alerts/22", Kind: "alert", Channel: "email", To: "clinic@example.com", Made: day,
			Alerts: []uint64{23}, Again: day.Add(time.Hour)}},
		{Kind: Opted, Contact: contact, OptOut: true},
		{Kind: Rerouted, ID: id, Contact: contact},
		{Kind: Noted, ID: id, Note: "Lottie called, lottie@example.com"},
	}
}

const (
	withLottie = "- {id: lottie-9, name: Lottie, contact: +12025550177}\n- {id: p1}\n"
	noLottie   = "- {id: p1}\n"
)

// lottiesJournal is a journal with her in it.
func lottiesJournal(t testing.TB, path string) *Journal {
	t.Helper()
	j := open(t, path)
	if err := moveLottieIn(j); err != nil {
		t.Fatal(err)
	}
	return j
}

// lottiesFile is the same, where there is no test. Her file is an older one.
func lottiesFile(path string) (*Journal, error) {
	j, err := Open(path, Options{})
	if err != nil {
		return nil, err
	}
	err = errors.Join(moveLottieIn(j), accept(j, "stepgate.yaml", "clinic: x\n", "enrollments.yaml", noLottie))
	if err != nil {
		return nil, errors.Join(err, j.Close())
	}
	return j, nil
}

func moveLottieIn(j *Journal) error {
	if err := accept(j, "stepgate.yaml", "clinic: x\n", "programs/a.yaml", "v1", "enrollments.yaml", withLottie); err != nil {
		return err
	}
	var contact []byte
	err := j.View(func(tx *Tx) error { contact = tx.ContactHash("+12025550177"); return nil })
	return errors.Join(err, add(j, lottiesLife(contact)...))
}

// found tells which words are in a file's bytes.
func found(t testing.TB, path string, words []string) (list []string) {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for _, w := range words {
		for _, form := range []string{w, hex.EncodeToString([]byte(w))} {
			if bytes.Contains(data, []byte(form)) {
				list = append(list, form)
			}
		}
	}
	return list
}

// An erased person's key and payloads are gone from the tree at once, the bytes
// from the file with the compaction, and the rest is what it would be without
// them.
func TestErase(t *testing.T) {
	path := filepath.Join(t.TempDir(), "journal.db")
	j := lottiesJournal(t, path)
	before := checkWhole(t, j)
	if got := found(t, path, lotties); len(got) < 5 {
		t.Fatalf("the search finds only %v in a file that has them all", got)
	}
	var secrets []string // her key, and what is encrypted under it
	poke(t, j, func(b func(bucketID) *bolt.Bucket) error {
		sub := bytes.Clone(b(inSubjects).Get([]byte("lottie-9")))
		secrets = append(lotties, string(sub[sidSize:]), withLottie)
		for _, key := range eventsOf(b, sub[:sidSize]) {
			if _, stored, err := parseRecord(key, b(inEvents).Get(key)); err == nil {
				secrets = append(secrets, string(stored))
			}
		}
		return nil
	})
	if len(secrets) < 30 {
		t.Fatalf("%d secrets", len(secrets))
	}
	// The clinic takes her out of its files, and she is erased.
	if err := accept(j, "stepgate.yaml", "clinic: x\n", "programs/a.yaml", "v2", "enrollments.yaml", noLottie); err != nil {
		t.Fatal(err)
	}
	mustAdd(t, j, Event{Kind: Removed, ID: "lottie-9"})
	err := j.Update(t.Context(), func(tx *Tx) error {
		err := tx.Erase("lottie-9", day.Add(time.Hour), "admin", "asked for it")
		n, err2 := tx.PruneFiles(day.Add(time.Hour), isPeople)
		if n != 1 {
			t.Errorf("%d files went, want 1", n)
		}
		return errors.Join(err, err2)
	})
	if err != nil {
		t.Fatal(err)
	}
	after := checkWhole(t, j)
	if after.Subjects != before.Subjects-1 || after.Erased != 22 || after.Pruned != 1 || after.Events != before.Events+4 || after.Files != 4 {
		t.Errorf("report %+v after %+v", after, before)
	}
	checkLottieGone(t, j)
	old := found(t, path, secrets)
	if len(old) == 0 {
		t.Error("nothing to compact: the test searches in vain")
	}
	backupTo(t, j, path+".copy")
	if got := found(t, path+".copy", secrets); len(got) > 0 {
		t.Errorf("a copy made before the compaction holds %q", got)
	}
	if rep, err := VerifyFile(path + ".copy"); err != nil || rep != after {
		t.Errorf("copy %+v, %v, want %+v", rep, err, after)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	was, is, err := Compact(path)
	if err != nil || is > was {
		t.Fatalf("compact: %d to %d, %v", was, is, err)
	}
	if got := found(t, path, secrets); len(got) > 0 {
		t.Errorf("the compacted file holds %q", got)
	}
	j = open(t, path)
	if rep := checkWhole(t, j); rep != after {
		t.Errorf("report %+v, want %+v", rep, after)
	}
	checkLottieGone(t, j)
}

func checkLottieGone(t *testing.T, j *Journal) {
	t.Helper()
	var was, is string
	view(t, j, func(tx *Tx) (err error) { was, err = dump(tx); return err })
	for _, w := range lotties {
		if strings.Contains(was, w) {
			t.Errorf("%q can be read in the journal", w)
		}
	}
	if err := j.Rebuild(); err != nil {
		t.Fatal(err)
	}
	view(t, j, func(tx *Tx) (err error) { is, err = dump(tx); return err })
	if was != is {
		t.Errorf("a rebuild gives\n%s\nwant\n%s", is, was)
	}
	view(t, j, func(tx *Tx) error {
		if !tx.OptedOut(tx.ContactHash("+12025550177")) || !tx.IsErased("lottie-9") || tx.IsErased("p1") || tx.IsErased("lottie-") {
			t.Error("an opt-out or the erasure is lost, or there is one too many")
		}
		if n := tx.Spent("+12025550100", day); n != 3 {
			t.Errorf("%d segments spent, want those of the other", n)
		}
		_, err := tx.File(hex.EncodeToString(hashed(withLottie)))
		if !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("her file: %v", err)
		}
		data, err := tx.File(hex.EncodeToString(hashed("v1"))) // programs explain the past of others
		if err != nil || string(data) != "v1" {
			t.Errorf("an old program: %q, %v", data, err)
		}
		files, _, err := tx.LastAccepted()
		if len(files) != 3 {
			t.Errorf("last accepted %v", files)
		}
		return err
	})
}

func hashed(s string) []byte { h := hashOf([]byte(s)); return h[:] }

// The same id may be enrolled again, as somebody new.
func TestErasedIDAgain(t *testing.T) {
	j := lottiesJournal(t, filepath.Join(t.TempDir(), "journal.db"))
	erase := func() error {
		return j.Update(t.Context(), func(tx *Tx) error { return tx.Erase("lottie-9", day, "", "kept for 2 years") })
	}
	if err := erase(); err != nil {
		t.Fatal(err)
	}
	// What the first one wrote may be listed again by the carrier: it is nobody's.
	if err := add(j, Event{Kind: Heard, In: &In{Channel: "sms", ID: "SMLOTTIE3"}}); !errors.Is(err, ErrKeyTaken) {
		t.Errorf("a text from before was heard again: %v", err)
	}
	mustAdd(t, j, enroll("lottie-9", day), Event{Kind: Intended, ID: "lottie-9", Out: &Out{Key: "lotties-text/sent", Channel: "sms"}},
		Event{Kind: Heard, ID: "lottie-9", In: &In{Channel: "sms", ID: "SMLOTTIE9"}})
	checkWhole(t, j)
	view(t, j, func(tx *Tx) error {
		n := 0
		err := tx.Events("lottie-9", func(Event) error { n++; return nil })
		if p, err := tx.Person("lottie-9"); err != nil || p.State.Rev != 1 || n != 3 || !tx.IsErased("lottie-9") {
			t.Errorf("person %+v, %v, %d events", p, err, n)
		}
		return err
	})
	if err := erase(); err != nil {
		t.Fatal(err)
	}
	if err := erase(); !errors.Is(err, ErrInvalid) {
		t.Errorf("erased a third time: %v", err)
	}
	checkWhole(t, j)
	view(t, j, func(tx *Tx) error {
		list, err := tx.Erasures()
		if len(list) != 2 || !bytes.Equal(list[0].Hash, list[1].Hash) || bytes.Equal(list[0].Subject, list[1].Subject) {
			t.Errorf("erasures %v", list)
		}
		return err
	})
}

func TestEraseRefused(t *testing.T) {
	j := lottiesJournal(t, filepath.Join(t.TempDir(), "journal.db"))
	update := func(fn func(tx *Tx) error) error { return j.Update(context.Background(), fn) }
	before := lastSeq(t, j)
	sid := make([]byte, sidSize)
	var clinic []byte
	view(t, j, func(tx *Tx) error {
		s, err := tx.c.subject("")
		clinic = s.sid[:]
		return err
	})
	for name, fn := range map[string]func(tx *Tx) error{
		"the clinic": func(tx *Tx) error { return tx.Erase("", day, "", "") },
		"nobody":     func(tx *Tx) error { return tx.Erase("ghost", day, "", "") },
		"no time":    func(tx *Tx) error { return tx.Erase("p1", time.Time{}, "", "") },
		"by an event": func(tx *Tx) error {
			return firstErr(tx.Append(Event{Kind: Erased, At: day, Erasure: &Erasure{Hash: tx.idHash("p1"), Subject: sid, At: day}}))
		},
		"sets by an event": func(tx *Tx) error { return firstErr(tx.Append(Event{Kind: Pruned, At: day, Sets: []uint64{1}})) },
		"half a hash":      func(tx *Tx) error { return firstErr(tx.ReapplyErasures([]Erasure{{Hash: sid, Subject: sid}}, day)) },
		"the clinic's": func(tx *Tx) error {
			return firstErr(tx.ReapplyErasures([]Erasure{{Hash: tx.idHash(""), Subject: clinic, At: day}}, day))
		},
		"its alert": func(tx *Tx) error {
			return firstErr(tx.Append(Event{Kind: Intended, ID: "p1", At: day, Out: &Out{Key: "k", Alerts: []uint64{23}}}))
		},
	} {
		if err := update(fn); !errors.Is(err, ErrInvalid) {
			t.Errorf("%s: %v, want ErrInvalid", name, err)
		}
	}
	// A message key stays with whom it was made for, even withdrawn.
	mustAdd(t, j, Event{Kind: Intended, ID: "p1", Out: &Out{Key: "mine"}}, Event{Kind: Withdrawn, ID: "p1", Key: "mine"})
	if err := add(j, Event{Kind: Intended, Out: &Out{Key: "mine"}}); !errors.Is(err, ErrKeyTaken) {
		t.Errorf("another's key: %v", err)
	}
	view(t, j, func(tx *Tx) error {
		if tx.Erase("p1", day, "", "") == nil || firstErr(tx.PruneFiles(day, isPeople)) == nil {
			t.Error("a view erased")
		}
		return nil
	})
	if err := update(func(tx *Tx) error { return errors.Join(tx.Erase("p1", day, "", ""), errors.New("undone")) }); err == nil {
		t.Error("no error")
	}
	if seq := lastSeq(t, j); seq != before+2 {
		t.Errorf("%d events, want %d", seq, before+2)
	}
}

// A journal restored from an older copy gets the erasures of the newer one,
// and only those: whoever got the id since stays.
func TestReapplyErasures(t *testing.T) {
	dir := t.TempDir()
	path, old := filepath.Join(dir, "journal.db"), filepath.Join(dir, "old.db")
	j := lottiesJournal(t, path)
	backupTo(t, j, old)
	err := j.Update(t.Context(), func(tx *Tx) error { return tx.Erase("lottie-9", day, "admin", "") })
	if err != nil {
		t.Fatal(err)
	}
	mustAdd(t, j, enroll("lottie-9", day))
	err = j.Update(t.Context(), func(tx *Tx) error { // came and went in one commit, and came again
		_, err := tx.Append(at(enroll("later", day)))
		err = errors.Join(err, tx.Erase("later", day, "admin", ""))
		return errors.Join(err, firstErr(tx.Append(at(enroll("later", day)))))
	})
	checkWhole(t, j)
	if err := errors.Join(err, j.Close()); err != nil {
		t.Fatal(err)
	}
	list, err := ErasuresIn(path)
	if err != nil || len(list) != 2 {
		t.Fatalf("erasures %v, %v", list, err)
	}
	if none, err := ErasuresIn(old); err != nil || none != nil {
		t.Errorf("erasures of the copy: %v, %v", none, err)
	}
	for again := range 2 { // the second time nothing is left to do
		k := open(t, old)
		var ids []string
		err = k.Update(t.Context(), func(tx *Tx) (err error) { ids, err = tx.ReapplyErasures(list, day.Add(time.Hour)); return err })
		if want := [][]string{{"lottie-9"}, nil}[again]; err != nil || !reflect.DeepEqual(ids, want) {
			t.Errorf("erased %v, %v", ids, err)
		}
		rep := checkWhole(t, k)
		if rep.Subjects != 2 || rep.Erased != 21 || rep.Events != 29 {
			t.Errorf("report %+v", rep)
		}
		view(t, k, func(tx *Tx) error {
			got, err := tx.Erasures()
			if !reflect.DeepEqual(got, list) {
				t.Errorf("erasures %v, want %v", got, list)
			}
			return err
		})
		if err := k.Close(); err != nil {
			t.Fatal(err)
		}
	}
	k := open(t, path)
	err = k.Update(t.Context(), func(tx *Tx) error {
		ids, err := tx.ReapplyErasures(list, day)
		if ids != nil {
			t.Errorf("erased %v, who is somebody new", ids)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}
