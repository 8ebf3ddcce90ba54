package daemon

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/notify"
)

// A carrier that hangs gets so many messages and no more: each would have to be
// looked up after a kill. The rest goes once it answers.
func TestNoMoreThanSoManyWithoutAnOutcome(t *testing.T) {
	const people = mostUnsettled + 60
	patients := make([]*enrolled, people)
	for i := range patients {
		patients[i] = onSMS(fmt.Sprintf("p-%04d", i), fmt.Sprintf("+1%d55501%02d", 201+i/100, i%100))
	}
	release := make(chan struct{})
	prepare := func(c *clinic, _ *RunOptions) {
		release = make(chan struct{})
		c.numbers = []config.SMSNumber{{Number: ourNumber, Rate: 1000}}
		c.sms.inside = func(context.Context, notify.Message) { <-release }
	}
	inBubble(t, patients, prepare, func(x *running) {
		x.s.o.Workers = 2 * mostUnsettled
		time.Sleep(tillNine + time.Minute)
		synctest.Wait()
		var handed []journal.Row
		err := x.j.View(func(tx *journal.Tx) (err error) { handed, err = tx.HandedRows(); return err })
		if err != nil || len(handed) != mostUnsettled || x.sms.tries != mostUnsettled {
			x.t.Fatalf("%d marked, %d begun, want %d; %v", len(handed), x.sms.tries, mostUnsettled, err)
		}
		close(release)
		time.Sleep(time.Minute)
		synctest.Wait()
		if len(x.sms.arrived) != people {
			x.t.Errorf("%d of %d arrived", len(x.sms.arrived), people)
		}
	})
}

// An outcome that does not fit what went before holds up no other.
func TestOneOutcomeThatDoesNotFit(t *testing.T) {
	prepare := func(c *clinic, _ *RunOptions) { c.sms.next(says{res: notify.Result{Status: "odd"}}) }
	inBubble(t, crowd(30), prepare, func(x *running) {
		time.Sleep(tillNine + time.Minute)
		synctest.Wait()
		var handed []journal.Row
		err := x.j.View(func(tx *journal.Tx) (err error) { handed, err = tx.HandedRows(); return err })
		if err != nil || len(handed) != 1 || len(x.sms.arrived) != 29 || x.logged("out.failed") != 1 {
			x.t.Errorf("%d marked, %d arrived, %d logged; %v", len(handed), len(x.sms.arrived), x.logged("out.failed"), err)
		}
	})
}

// While the disk fails outcomes are kept and tried again, and count as open;
// what was written after all is not tried again.
func TestOutcomesWaitForTheDisk(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var mu sync.Mutex
		disk, told, written := error(syscall.ENOSPC), 0, []string(nil)
		fails := func(with error) {
			mu.Lock()
			defer mu.Unlock()
			disk = with
		}
		x := newSettler(func(lot []ended) error {
			mu.Lock()
			defer mu.Unlock()
			for _, e := range lot {
				switch {
				case disk != nil:
					return disk
				case e.row.Key == "bad":
					return errors.New("whatever it is")
				}
			}
			for _, e := range lot {
				written = append(written, e.row.Key)
			}
			return nil
		}, func(ended, error) { told++ })
		go x.run()
		for _, key := range []string{"a", "bad", "b"} {
			if !x.admit() {
				t.Fatal("no room")
			}
			x.in <- ended{row: &journal.Row{Out: journal.Out{Key: key}}}
		}
		time.Sleep(3 * settleAgain)
		synctest.Wait()
		if len(written) > 0 || told < 3 || len(x.open) != 3 {
			t.Fatalf("%v written, told %d times, %d open", written, told, len(x.open))
		}
		fails(nil)
		time.Sleep(settleAgain + breath)
		synctest.Wait()
		slices.Sort(written)
		if got := strings.Join(written, " "); got != "a b" || len(x.open) != 0 {
			t.Errorf("%q written, %d open", got, len(x.open))
		}
		fails(journal.ErrUnsure)
		x.admit()
		x.in <- ended{row: &journal.Row{Out: journal.Out{Key: "c"}}}
		time.Sleep(breath)
		synctest.Wait()
		if len(x.open) != 0 {
			t.Error("what is written already is tried again")
		}
		x.stop()
	})
}

// A lot that can't be marked gives back all it holds, is one line in the log, and
// closes its lane for a little.
func TestALotThatCannotBeMarked(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	x := &sender{settler: newSettler(c.s.settleAll, c.s.outFailed)}
	l := c.s.laneOf("sms/" + ourNumber)
	lot := []string{"day/p-01/2026-10-05", "day/p-02/2026-10-05"}
	for _, key := range lot {
		if d := c.s.room(x, l, c.clock.Now(), journal.Queued{Key: key}, 0, c.clock.Now()); d != 0 || !l.claim(journal.Queued{Key: key}) {
			t.Fatal("no room")
		}
	}
	ended, end := context.WithCancel(t.Context())
	end()
	c.s.handLot(ended, x, l, lot)
	unmarked, _ := l.claimed()
	if unmarked != 0 || len(l.slots) != 0 || len(x.settler.open) != 0 || c.logged("out.failed") != 1 {
		t.Errorf("%d claimed, %d slots, %d open, %d lines", unmarked, len(l.slots), len(x.settler.open), c.logged("out.failed"))
	}
	if !l.opens().After(c.clock.Now()) {
		t.Error("the lane is open")
	}
}
