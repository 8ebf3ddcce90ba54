//go:build proof

package main

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"stepgate/daemon/journal"
)

// proof is a clinic whose service is killed over and over.
type proof struct {
	t       *testing.T
	dir     string
	rnd     *rand.Rand
	ids     []string
	dropped map[string][]string // texts by patient, in the order dropped
	drops   int
	log     strings.Builder // of all services so far
}

const proofPatients = 20

// proofID finds whom a log line is about.
var proofID = regexp.MustCompile(` id=p-\d+ `)

// TestProofKill kills a service in quick time with SIGKILL, at a random moment
// and again and again, while patients answer. It then counts: each patient has
// at most one daily message a date, every reply was taken exactly once, every
// answer was sent once, and the journal is whole.
//
// STEPGATE_KILLS is how often (20), STEPGATE_SEED which random moments and
// replies.
func TestProofKill(t *testing.T) {
	kills, seed := number(t, "STEPGATE_KILLS", 20), number(t, "STEPGATE_SEED", int(time.Now().UnixNano()))
	t.Logf("STEPGATE_KILLS=%d STEPGATE_SEED=%d", kills, seed)
	x := &proof{t: t, rnd: rand.New(rand.NewPCG(uint64(seed), 0)), dropped: map[string][]string{}}
	x.layOut()
	for range kills {
		svc := serve(t, nil, x.dir, "--quick", "5s")
		x.live(svc)
		svc.kill()
		x.log.WriteString(svc.log.String())
		whole(t, filepath.Join(x.dir, "data", "quick", "journal.db"))
	}
	x.settle()
	x.check(kills)
}

// whole checks the journal that a kill left: its pages, its chain, and that a
// replay gives what is derived. A file that was never begun is whole.
func whole(t *testing.T, path string) {
	t.Helper()
	if info, err := os.Stat(path); err != nil || info.Size() == 0 {
		return
	}
	if _, err := journal.VerifyFile(path); err != nil {
		t.Fatalf("after a kill: %v", err)
	}
}

func number(t *testing.T, env string, otherwise int) int {
	s := os.Getenv(env)
	if s == "" {
		return otherwise
	}
	n, err := strconv.Atoi(s)
	if err != nil || n < 1 {
		t.Fatalf("%s=%q, want a number from 1 on", env, s)
	}
	return n
}

func (x *proof) layOut() {
	r := readReadme(x.t)
	x.dir = r.clinic(x.t)
	one := read(x.t, x.dir, "enrollments.yaml")
	head, body, _ := strings.Cut(one, "\n")
	all := head + "\n"
	for n := range proofPatients {
		id := fmt.Sprintf("p-%02d", n+1)
		x.ids = append(x.ids, id)
		all += strings.NewReplacer("id: p-01", "id: "+id, "spool: rosa", "spool: "+id).Replace(body)
	}
	write(x.t, x.dir, "enrollments.yaml", all)
}

func (x *proof) spool() string { return filepath.Join(x.dir, "data", "quick", "spool") }

// replies are what patients say. None ends or pauses a plan, so that messages
// and answers go on to the end.
var replies = []string{"D1", "D2", "d 0", "done 3", "S2", "P5", "P6", "2", "H", "N", "W3", "D", "hm what", "F2"}

// drop puts a reply on the spool, as a handset does.
func (x *proof) drop() {
	x.t.Helper()
	id := x.ids[x.rnd.IntN(len(x.ids))]
	text := replies[x.rnd.IntN(len(replies))]
	x.drops++
	dir := filepath.Join(x.spool(), id, "in")
	name := fmt.Sprintf("%06d.txt", x.drops)
	write(x.t, dir, "."+name, text+"\n")
	if err := os.Rename(filepath.Join(dir, "."+name), filepath.Join(dir, name)); err != nil {
		x.t.Fatal(err)
	}
	x.dropped[id] = append(x.dropped[id], text)
}

// live drops replies until the moment of the kill: by chance, or just after
// the service has begun to take a burst of replies or to send the day's
// messages, where most of its commits are.
func (x *proof) live(svc *process) {
	x.t.Helper()
	moment := time.After(time.Duration(x.rnd.IntN(2500)) * time.Millisecond)
	next := time.NewTicker(25 * time.Millisecond)
	defer next.Stop()
	mark, within := "", 0
	switch x.rnd.IntN(3) {
	case 0:
		mark, within = "msg=day.decided", 40
	case 1:
		mark, within = "msg=in.taken", 30
		for range 20 {
			x.drop()
		}
	}
	count := strings.Count(svc.log.String(), mark)
	for {
		text, grew := svc.log.now()
		if mark != "" && strings.Count(text, mark) > count {
			mark, moment = "", time.After(time.Duration(x.rnd.IntN(within*1000))*time.Microsecond)
		}
		select {
		case <-moment:
			return
		case <-next.C:
			if x.rnd.IntN(3) == 0 {
				x.drop()
			}
		case <-grew:
		case <-svc.ended:
			svc.fail("it ended by itself")
		}
	}
}

// settle lets a last service finish what is left, and stops it in order once
// it has sent a whole date.
func (x *proof) settle() {
	x.t.Helper()
	svc := serve(x.t, nil, x.dir, "--quick", "20s")
	waitUntil(x.t, "every reply to be taken", func() bool {
		left, err := filepath.Glob(filepath.Join(x.spool(), "*", "in", "*.txt"))
		return err == nil && len(left) == 0
	})
	seen := len(svc.log.String())
	svc.wait(svc.log, "a date after that, decided and sent", func(s string) bool {
		// What was decided before may be sent only now, so it is counted by patient.
		decided, waits := 0, map[string]bool{}
		for line := range strings.Lines(s[seen:]) {
			id := proofID.FindString(line)
			switch {
			case has("msg=day.decided", "send=true")(line):
				decided++
				waits[id] = true
			case has("msg=day.decided")(line):
				decided++
			case has("msg=out.sent", "kind=daily")(line):
				delete(waits, id)
			}
		}
		return decided >= proofPatients && len(waits) == 0
	})
	svc.stop()
	x.log.WriteString(svc.log.String())
}

// tally is what became of the messages.
type tally struct {
	daily, answers, alerts, expired, withdrawn int
	replies, lost                              int
}

func (x *proof) check(kills int) {
	x.t.Helper()
	j, err := journal.Open(filepath.Join(x.dir, "data", "quick", "journal.db"), journal.Options{})
	if err != nil {
		x.t.Fatal(err)
	}
	defer j.Close()
	if _, err := j.Verify(); err != nil {
		x.t.Fatalf("the journal does not verify: %v", err)
	}
	var n tally
	if err := j.View(func(tx *journal.Tx) error { return x.count(tx, &n) }); err != nil {
		x.t.Fatal(err)
	}
	log := x.log.String()
	recovered := strings.Count(log, "msg=out.recovered")
	fmt.Printf("kill proof: %d kills, %d patients, %d daily messages, %d replies taken, %d answers, %d alerts,\n"+
		"  %d hand-overs recovered, %d replies delivered twice and taken once, %d messages withdrawn, %d expired, lost = %d\n",
		kills, len(x.ids), n.daily, n.replies, n.answers, n.alerts,
		recovered, strings.Count(log, "msg=in.duplicate"), n.withdrawn, n.expired, n.lost)
	if kills >= 20 && recovered == 0 {
		x.t.Error("no kill fell between a hand-over and its outcome, so nothing was shown")
	}
	if n.lost != 0 || n.replies != x.drops || n.daily == 0 || n.answers == 0 {
		x.t.Errorf("%d of %d replies taken, %d lost, %d daily messages, %d answers", n.replies, x.drops, n.lost, n.daily, n.answers)
	}
}

// count goes through the journal and the spool side by side.
func (x *proof) count(tx *journal.Tx, n *tally) error {
	keys := map[string]string{} // every message ever intended: key, contact
	heard := map[string][]string{}
	err := tx.All(func(e journal.Event) error {
		switch {
		case e.Kind == journal.Intended:
			keys[e.Out.Key] = e.Out.To
		case e.Kind == journal.Withdrawn:
			n.withdrawn++
		case e.In != nil:
			heard[e.ID] = append(heard[e.ID], e.In.Text)
			n.replies++
			if h := e.In.Hearing; h == nil || len(h.Parts) > 0 && keysLack(tx, "answer/spool/"+e.In.ID) {
				x.t.Errorf("%s: no answer was intended to %q", e.ID, e.In.Text)
				n.lost++
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	files := map[string]int{} // messages on the spool, by contact
	for key, to := range keys {
		if err := x.message(tx, key, to, files, n); err != nil {
			return err
		}
	}
	x.boxes(heard, files, n)
	return nil
}

func keysLack(tx *journal.Tx, key string) bool {
	row, err := tx.Row(key)
	return err != nil || row == nil
}

// message checks one message's outcome against its file.
func (x *proof) message(tx *journal.Tx, key, to string, files map[string]int, n *tally) error {
	row, err := tx.Row(key)
	if err != nil {
		return err
	}
	sum := sha256.Sum256([]byte(key))
	name := row.Made.UTC().Format("20060102T150405Z") + "-" + hex.EncodeToString(sum[:6]) + ".txt"
	_, err = os.Stat(filepath.Join(x.spool(), to, "out", name))
	there := err == nil
	switch {
	case row.Status == journal.Sent && there:
		files[to]++
	case row.Status == journal.Expired && row.Kind == "daily" && !there:
		n.expired++ // the day's texting hours ended while it was down
		return nil
	case row.Status == journal.TakenBack && !there:
		return nil
	default:
		x.t.Errorf("message %s is %s (%s), its file there: %v", key, row.Status, row.Code, there)
		n.lost++
		return nil
	}
	switch row.Kind {
	case "daily":
		n.daily++
	case "alert":
		n.alerts++
	default:
		n.answers++
	}
	return nil
}

// boxes checks what lies on the patients' phones.
func (x *proof) boxes(heard map[string][]string, files map[string]int, n *tally) {
	x.t.Helper()
	for _, id := range x.ids {
		if !slices.Equal(heard[id], x.dropped[id]) {
			x.t.Errorf("%s said %q\nthe journal has heard %q", id, x.dropped[id], heard[id])
			n.lost++
		}
		read, err := filepath.Glob(filepath.Join(x.spool(), id, "read", "*.txt"))
		if err != nil || len(read) != len(x.dropped[id]) {
			x.t.Errorf("%s: %d replies in read/ (%v), want %d", id, len(read), err, len(x.dropped[id]))
		}
		texts := messages(x.t, x.spool(), id)
		if len(texts) != files[id] {
			x.t.Errorf("%s has %d messages on the phone, the journal has sent %d", id, len(texts), files[id])
		}
		dates := dailies(texts)
		slices.Sort(dates)
		if all := len(dates); len(slices.Compact(dates)) != all {
			x.t.Errorf("%s has two daily messages on one date: %q", id, dates)
		}
	}
	if len(messages(x.t, x.spool(), "clinician")) != files["clinician"] {
		x.t.Errorf("the clinician has %d messages, the journal has sent %d", len(messages(x.t, x.spool(), "clinician")), files["clinician"])
	}
}
