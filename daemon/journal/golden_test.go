package journal

import (
	"context"
	"encoding/binary"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"stepgate/rules"
)

var update = flag.Bool("update", false, "write the golden journal anew; only ever for a new format version")

// Beside the files of the newest version stand those of every older one: the
// file as it was written, and what it holds once it was opened. Those are never
// written again.
const goldenDir = "../../testdata/journal/"

// goldenEvents is a short invented history with every kind of event.
func goldenEvents(files []FileRef, contact []byte) []Event {
	score := 5
	due, next, never := day.Add(24*time.Hour), day.Add(48*time.Hour), time.Time{}
	held := &rules.State{Rev: 3, Program: "steady-arches", Decided: 20731, P: 1, W: 1,
		Hold: &rules.PainHold{Since: 20731}, Heard: rules.Heard{Any: true, Score: &score}}
	out := daily("robin-1", "daily/robin-1/2026-10-05")
	out.Out.To, out.Out.Text = "+12025550142", "Mon Oct 5. Wall stretch: 2 times a day, 3 times each leg, hold 10 seconds. Pain 0-10?"
	second := daily("sam-2", "daily/sam-2/2026-10-05")
	second.Out.Channel, second.Out.To, second.Out.Subject, second.Out.HTML = "email", "sam@example.com", "Today", "<p>Mon Oct 5 & rest</p>"
	answer := Event{Kind: Intended, ID: "robin-1", Out: &Out{Key: "answer/SM1", Kind: "answer", Channel: "sms",
		To: "+12025550142", Text: "5 noted. No more exercises today.", Made: day, Until: due}}
	return []Event{
		{Kind: Accepted, Files: files},
		enroll("robin-1", day), enroll("sam-2", day), enroll("kim-3", never),
		{Kind: Decided, ID: "kim-3", Decision: &rules.Decision{Date: 20731, Day: 1, State: rules.InActive,
			Why: rules.Reason{Code: rules.NotBegun}}, State: &rules.State{Rev: 2}, Due: &due},
		{Kind: Skipped, ID: "kim-3", Due: &next},
		out, second, handed("robin-1", out.Out.Key), settle("robin-1", out.Out.Key, "sent"),
		{Kind: Heard, ID: "robin-1", State: held, In: &In{Channel: "sms", ID: "SM1", From: "+12025550142", Text: "P5",
			Came: day, Day: 20731, Reading: rules.Reading{Pain: &score}, Hearing: &rules.Hearing{Parts: []rules.Part{rules.SayHold}}}},
		answer, handed("robin-1", "answer/SM1"),
		{Kind: Withdrawn, ID: "sam-2", Key: second.Out.Key, Why: "stop"},
		{Kind: Opted, Contact: contact, OptOut: true},
		{Kind: Revised, ID: "kim-3", State: &rules.State{Rev: 3, Held: &rules.ClinicHold{Since: 20731, By: "J. Marlowe DPM"}},
			Entry: &rules.Entry{Kind: rules.EntryHold, On: 20731, By: "J. Marlowe DPM", Why: "swollen"}},
		{Kind: Removed, ID: "sam-2"},
		{Kind: Noted, Note: "sender trouble"},
		{Kind: Intended, Out: &Out{Key: "alert/11", Kind: "alert", Channel: "spool", To: "clinic", Text: "Robin: pain 5", Made: day}},
		handed("", "alert/11"),
		{Kind: Settled, Key: "alert/11", Result: &Result{Status: "retry", Code: "timeout", Retry: due}},
	}
}

// since2 is what version 2 added: texts by a number of ours, looked up, watched
// and spent, news of them, a dead contact, and a point of reading.
func since2(dead []byte) []Event {
	text := func(key, to string) Event {
		return Event{Kind: Intended, ID: "kim-3", Out: &Out{Key: key, Kind: "daily", Channel: "sms", From: "+12025550100",
			To: to, Text: "Mon Oct 5. Rest day.", Made: day, Until: day.Add(12 * time.Hour), Rank: 2, Segments: 1}}
	}
	const a, b, c = "daily/kim-3/1", "daily/kim-3/2", "daily/kim-3/3"
	return []Event{
		text(a, "+12025550143"), handed("kim-3", a), settle("kim-3", a, "sent"),
		{Kind: Delivery, ID: "kim-3", Key: a, Result: &Result{Status: Undelivered, Code: "30003"}},
		text(b, "+12025550143"), handed("kim-3", b), settle("kim-3", b, "sent"),
		text(c, "+12025550143"), handed("kim-3", c),
		{Kind: Settled, ID: "kim-3", Key: c, Result: &Result{Status: "unknown", Code: "absent", Retry: day.Add(time.Hour)}},
		text("daily/kim-3/4", "+12025550143"),
		{Kind: Rerouted, ID: "kim-3", Contact: dead},
		{Kind: Polled, Channel: "sms", Point: day.Add(30 * time.Minute)},
		{Kind: Alerted, ID: "robin-1", Alert: &Alert{Key: "pause/robin-1/SM9", Notice: rules.Notice{Kind: rules.NoticePause}, On: 20731,
			Quote: "P9", To: "clinician", Due: day.Add(time.Hour)}},
		{Kind: Alerted, Alert: &Alert{Key: "bad files//1", Notice: rules.Notice{Kind: rules.NoticeBadFiles}, On: 20731,
			Detail: "stepgate.yaml:1:1: empty", Rank: 1, To: "admin", Due: day.Add(2 * time.Hour)}},
		{Kind: Intended, Out: &Out{Key: "alerts/1", Kind: "alert", Channel: "email", To: "clinic@example.com", Made: day,
			Alerts: []uint64{35}, Again: day.Add(24 * time.Hour)}},
		{Kind: Acked, Alerts: []uint64{36}, Why: "seen", By: "admin@example.org"},
		enroll("jo-4", day), text4("daily/jo-4/1"), handed("jo-4", "daily/jo-4/1"),
	}
}

// text4 is a text to the person whom writeGolden erases.
func text4(key string) Event {
	return Event{Kind: Intended, ID: "jo-4", Out: &Out{Key: key, Kind: "daily", Channel: "sms", From: "+12025550100",
		To: "+12025550144", Text: "Mon Oct 5. Rest day.", Made: day, Segments: 2}}
}

// letGo erases a person and then the file that named them.
func letGo(j *Journal, at time.Time) error {
	return j.Update(context.Background(), func(tx *Tx) error {
		err := tx.Erase("jo-4", at, "admin", "asked for it")
		hash, err2 := tx.PutFile([]byte("enrollments: []\n"))
		set, _, err3 := tx.LastAccepted()
		set = append(set, FileRef{Path: "enrollments.yaml", Hash: hash})
		_, err4 := tx.Append(Event{Kind: Accepted, At: at, Files: set})
		hash, err5 := tx.PutFile([]byte("enrollments: [kim-3]\n"))
		set[1].Hash = hash
		_, err6 := tx.Append(Event{Kind: Accepted, At: at, Files: set})
		n, err7 := tx.PruneFiles(at, func(path string) bool { return path == "enrollments.yaml" })
		if n != 1 {
			err7 = errors.Join(err7, fmt.Errorf("%d files pruned", n))
		}
		return errors.Join(err, err2, err3, err4, err5, err6, err7)
	})
}

// writeGolden makes the golden journal: keys and nonces are random, so each
// making is another file with the same dump.
func writeGolden(path string) error {
	if err := errors.Join(os.MkdirAll(filepath.Dir(path), 0o755), os.RemoveAll(path)); err != nil {
		return err
	}
	j, err := Open(path, Options{})
	if err != nil {
		return err
	}
	var files []FileRef
	var contact []byte
	err = j.Update(context.Background(), func(tx *Tx) error {
		hash, err := tx.PutFile([]byte("clinic: Elm Street Foot Care\n"))
		files = []FileRef{{Path: "stepgate.yaml", Hash: hash}}
		contact = tx.ContactHash("sam@example.com")
		return err
	})
	for i, e := range append(goldenEvents(files, contact), since2(contact)...) {
		e.At = day.Add(time.Duration(i) * time.Minute)
		err = errors.Join(err, add(j, e))
	}
	err = errors.Join(err, letGo(j, day.Add(time.Hour)))
	for i, e := range since3() {
		e.At = day.Add(2*time.Hour + time.Duration(i)*time.Minute)
		err = errors.Join(err, add(j, e))
	}
	return errors.Join(err, j.Close(), os.Chmod(path, 0o644))
}

// dump writes what the file holds, decrypted and otherwise as it stands, one
// JSON line a thing.
func dump(tx *Tx) (string, error) {
	var b strings.Builder
	line := func(what, name string, v []byte) {
		fmt.Fprintf(&b, "{\"what\":%q,\"name\":%q,\"is\":%s}\n", what, name, v)
	}
	who, err := tx.c.everyone()
	if err != nil {
		return "", err
	}
	for seq := range tx.LastSeq() {
		r, plain, err := tx.c.read(u64(seq+1), who.subject)
		if err != nil {
			return "", err
		}
		if plain == nil {
			plain = []byte("null")
		}
		line("event", fmt.Sprintf("%d %s %s %q engine %s", r.seq, r.time().Format(time.RFC3339Nano), r.kind, who.ids[r.sid], r.engine), plain)
	}
	for id := firstDerived; id < bucketCount; id++ {
		cur := tx.c.in(id).Cursor()
		for k, v := cur.First(); k != nil; k, v = cur.Next() {
			name := string(k)
			switch id {
			case inDays, inDue, inOutbox, inHanded, inWaiting, inSeen, inOptOut, inLookups, inWatched, inSpent, inAlerts, inAlertKeys, inAlertsDue, inTaken, inErased:
				name = fmt.Sprintf("%x", k)
			}
			if id == inOutbox {
				r, err := parseRow(binary.BigEndian.Uint64(k), v)
				if err != nil {
					return "", err
				}
				shown, err := toJSON(r.public())
				if err != nil {
					return "", err
				}
				v = fmt.Appendf(nil, "{\"bytes\":\"%x\",\"last\":%d,\"row\":%s}", v, r.Last, shown)
			}
			if !json.Valid(v) { // a number, a message key, or nothing
				v = fmt.Appendf(nil, "%q", fmt.Sprintf("%x", v))
			}
			line(string(bucketNames[id]), name, v)
		}
	}
	return b.String(), nil
}

// A journal written by any version of the format reads the same for ever.
func TestGolden(t *testing.T) {
	reports := map[int]Report{
		1: {Format: 5, Events: 21, Subjects: 4, Files: 1},
		2: {Format: 5, Events: 45, Subjects: 4, Erased: 3, Pruned: 1, Files: 2},
		3: {Format: 5, Events: 54, Subjects: 4, Erased: 3, Pruned: 1, Files: 2},
		4: {Format: 5, Events: 54, Subjects: 4, Erased: 3, Pruned: 1, Files: 2},
		5: {Format: 5, Events: 54, Subjects: 4, Erased: 3, Pruned: 1, Files: 2},
	}
	if *update {
		if err := writeGolden(fmt.Sprintf("%sv%d.db", goldenDir, formatVersion)); err != nil {
			t.Fatal(err)
		}
	}
	for version := oldestFormat; version <= formatVersion; version++ {
		t.Run(fmt.Sprintf("v%d", version), func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "journal.db") // opening a journal writes to it
			copyTo(t, fmt.Sprintf("%sv%d.db", goldenDir, version), path)
			j := open(t, path)
			if rep, want := checkWhole(t, j), reports[version]; rep != want {
				t.Errorf("report %+v, want %+v", rep, want)
			}
			var got string
			view(t, j, func(tx *Tx) (err error) { got, err = dump(tx); return err })
			sameDump(t, fmt.Sprintf("%sv%d.jsonl", goldenDir, version), got)
			readsAsMeant(t, j, version)
			// And it goes on: a new event on the old chain, also after a second start.
			mustAdd(t, j, Event{Kind: Settled, ID: "robin-1", Key: "answer/SM1", Result: &Result{Status: "sent"}},
				Event{Kind: Revised, ID: "robin-1"}, Event{Kind: Delivery, ID: "robin-1", Key: "answer/SM1", Result: &Result{Status: Delivered}})
			sameTrails(t, j, "", "robin-1", "sam-2", "kim-3", "jo-4")
			if err := j.Close(); err != nil {
				t.Fatal(err)
			}
			checkWhole(t, open(t, path))
		})
	}
}

// sameTrails checks that the events of everybody are those among all events
// that are theirs, whichever version wrote them.
func sameTrails(t *testing.T, j *Journal, ids ...string) {
	t.Helper()
	view(t, j, func(tx *Tx) error {
		want, got := map[string][]uint64{}, map[string][]uint64{}
		err := tx.All(func(e Event) error { want[e.ID] = append(want[e.ID], e.Seq); return nil })
		for _, id := range ids {
			err = errors.Join(err, tx.Events(id, func(e Event) error { got[id] = append(got[id], e.Seq); return nil }))
		}
		if !reflect.DeepEqual(got, want) {
			t.Errorf("events by person %v, want %v", got, want)
		}
		return err
	})
}

func copyTo(t *testing.T, from, to string) {
	t.Helper()
	data, err := os.ReadFile(from)
	if err == nil {
		err = os.WriteFile(to, data, 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
}

func sameDump(t *testing.T, path, got string) {
	t.Helper()
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	g, w := strings.Split(got, "\n"), strings.Split(string(want), "\n")
	if len(g) != len(w) {
		t.Errorf("%d lines, want %d", len(g), len(w))
	}
	for i := range min(len(g), len(w)) {
		if g[i] != w[i] {
			t.Errorf("line %d\ngot  %s\nwant %s", i+1, g[i], w[i])
		}
	}
}

// readsAsMeant compares what callers get with what was once put in: a field
// of the payload that is renamed in code would be lost from old journals.
func readsAsMeant(t *testing.T, j *Journal, version int) {
	t.Helper()
	view(t, j, func(tx *Tx) error {
		files, _, err := tx.LastAccepted()
		if err != nil || len(files) != min(version, 2) {
			t.Errorf("accepted %v, %v", files, err)
		}
		for _, f := range files[:1] {
			if data, err := tx.File(f.Hash); err != nil || string(data) != "clinic: Elm Street Foot Care\n" {
				t.Errorf("%s: %q, %v", f.Path, data, err)
			}
		}
		contact := tx.ContactHash("sam@example.com")
		if !tx.OptedOut(contact) {
			t.Error("an old opt-out is lost")
		}
		if seq, ok := tx.Seen("sms", "SM1"); !ok || seq != 11 {
			t.Errorf("seen in %d, %v", seq, ok)
		}
		want := goldenEvents(files[:1], contact)
		if version >= 2 {
			want = append(want, since2(contact)...)
			meant2(t, tx, contact)
		}
		state, later := *want[10].State, []Event(nil)
		if version >= 3 {
			later = since3()
			state = *later[4].State
			meant3(t, tx)
		}
		p, err := tx.Person("robin-1")
		if err != nil || p == nil || !reflect.DeepEqual(p.State, state) {
			t.Errorf("person %+v, %v", p, err)
		}
		return errors.Join(err, tx.All(func(e Event) error {
			const letting = 4 // events that let go of somebody
			at, w := day.Add(time.Duration(e.Seq-1)*time.Minute), Event{}
			switch i := int(e.Seq) - 1; {
			case i < len(want):
				w = want[i]
			case i < len(want)+letting:
				return meantErased(t, tx, e)
			default:
				i -= len(want) + letting
				w, at = later[i], day.Add(2*time.Hour+time.Duration(i)*time.Minute)
			}
			w.Seq, w.Engine, w.At = e.Seq, rules.Engine, at
			if !reflect.DeepEqual(e, w) {
				t.Errorf("event %d\ngot  %+v\nwant %+v", e.Seq, e, w)
			}
			return nil
		}))
	})
}

// meantErased looks at the events that let go of somebody.
func meantErased(t *testing.T, tx *Tx, e Event) error {
	t.Helper()
	list, err := tx.Erasures()
	if err != nil || len(list) != 1 || !tx.IsErased("jo-4") || tx.IsErased("kim-3") || !list[0].At.Equal(day.Add(time.Hour)) {
		t.Errorf("erasures %+v, %v", list, err)
	}
	switch {
	case e.Kind == Erased && e.By == "admin" && e.Why == "asked for it" && reflect.DeepEqual(*e.Erasure, list[0]):
	case e.Kind == Accepted && e.Seq == 44 && len(e.Files) == 2:
	case e.Kind == Pruned && reflect.DeepEqual(e.Sets, []uint64{43}) && len(e.Files) == 0:
	default:
		t.Errorf("event %+v", e)
	}
	return err
}

// meant2 looks at what version 2 added.
func meant2(t *testing.T, tx *Tx, dead []byte) {
	t.Helper()
	p, err := tx.Person("kim-3")
	if err != nil || p.From != "+12025550100" || string(p.Dead) != string(dead) {
		t.Errorf("person %+v, %v", p, err)
	}
	if r, err := tx.Row("daily/kim-3/1"); err != nil || r.News != Undelivered || r.NewsCode != "30003" || r.IsNews(NoNews) || !r.IsNews(Delivered) {
		t.Errorf("row with news %+v, %v", r, err)
	}
	late := day.Add(24 * time.Hour)
	watched, err1 := tx.Watched(late, 0)
	looks, err2 := tx.LookUps(late, 0)
	if len(watched) != 1 || len(looks) != 1 || watched[0].Key != "daily/kim-3/2" || looks[0].Key != "daily/kim-3/3" || looks[0].Code != "absent" {
		t.Errorf("watched %+v, to look up %+v, %v", watched, looks, errors.Join(err1, err2))
	}
	if n := tx.Spent("+12025550100", day); n != 3 || tx.Spent("+12025550100", late) != 0 || tx.Spent("+1202555010", day) != 0 {
		t.Errorf("spent %d", n)
	}
	if n, segments := tx.Backlog("sms/+12025550100"); n != 1 || segments != 1 {
		t.Errorf("backlog %d, %d", n, segments)
	}
	due, err := tx.AlertsDue(day.Add(48*time.Hour), 0)
	if err != nil || len(due) != 1 || due[0].Seq != 35 || due[0].Mail != "alerts/1" || due[0].Told != 1 || !due[0].Due.Equal(day.Add(24*time.Hour)) {
		t.Errorf("alerts due %+v, %v", due, err)
	}
	if r, err := tx.AlertOf(36); err != nil || r.How != "seen" || !r.Due.IsZero() || !tx.AlertKnown("bad files//1") {
		t.Errorf("acknowledged %+v, %v", r, err)
	}
	if e, err := tx.Event(35, "robin-1"); err != nil || e.Alert.Quote != "P9" {
		t.Errorf("event %+v, %v", e, err)
	}
	if !tx.Polled("sms").Equal(day.Add(30 * time.Minute)) {
		t.Errorf("polled %v", tx.Polled("sms"))
	}
}
