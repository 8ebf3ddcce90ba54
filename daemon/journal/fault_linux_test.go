package journal

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"runtime"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"unsafe"
)

// What makes the test binary a child whose disk fails.
const (
	callsEnv = "STEPGATE_JOURNAL_FAIL_CALLS_AT"
	roomEnv  = "STEPGATE_JOURNAL_FAIL_ROOM_AT"
)

func init() { children[callsEnv], children[roomEnv] = failCalls, failRoom }

// The system's own numbers and flags for filters of system calls, which the
// syscall package lacks: seccomp(2), seccomp_unotify(2), linux/seccomp.h.
const (
	setNoNewPrivs    = 38
	setModeFilter    = 1
	filterFlags      = 1 | 1<<3 | 1<<4 // all threads, with a listener, and an error if that cannot be
	retAllow         = 0x7fff0000
	retNotify        = 0x7fc00000
	notifyReceive    = 0xc0502100
	notifySend       = 0xc0182101
	notifyContinue   = 1
	loadNumber       = syscall.BPF_LD | syscall.BPF_W | syscall.BPF_ABS
	jumpIfEqual      = syscall.BPF_JMP | syscall.BPF_JEQ | syscall.BPF_K
	returnConst      = syscall.BPF_RET | syscall.BPF_K
	seccompOnAMD64   = 317
	seccompElsewhere = 277 // of the generic table, as on arm64
)

// failing lets the system itself fail one of the calls by which this process
// changes files, and carries out all others.
type failing struct {
	at    atomic.Int64 // which call, from 1; 0: none
	seen  atomic.Int64
	errno atomic.Int64
}

// watch hands every call that writes, sizes or syncs a file to f, for the rest
// of the process's life.
func (f *failing) watch() error {
	calls := []uint32{syscall.SYS_PWRITE64, syscall.SYS_FDATASYNC, syscall.SYS_FSYNC, syscall.SYS_FTRUNCATE}
	prog := []syscall.SockFilter{{Code: loadNumber}}
	for i, nr := range calls {
		prog = append(prog, syscall.SockFilter{Code: jumpIfEqual, Jt: uint8(len(calls) - i), K: nr})
	}
	prog = append(prog, syscall.SockFilter{Code: returnConst, K: retAllow}, syscall.SockFilter{Code: returnConst, K: retNotify})
	fprog := syscall.SockFprog{Len: uint16(len(prog)), Filter: &prog[0]}
	seccomp := uintptr(seccompElsewhere)
	if runtime.GOARCH == "amd64" {
		seccomp = seccompOnAMD64
	}
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	if _, _, errno := syscall.RawSyscall(syscall.SYS_PRCTL, setNoNewPrivs, 1, 0); errno != 0 {
		return fmt.Errorf("give up privileges: %w", errno)
	}
	fd, _, errno := syscall.RawSyscall(seccomp, setModeFilter, filterFlags, uintptr(unsafe.Pointer(&fprog)))
	if errno != 0 {
		return fmt.Errorf("filter system calls: %w", errno)
	}
	go f.answer(fd)
	return nil
}

func (f *failing) answer(fd uintptr) {
	for {
		var req struct {
			id   uint64
			rest [72]byte
		}
		if _, _, errno := syscall.Syscall(syscall.SYS_IOCTL, fd, notifyReceive, uintptr(unsafe.Pointer(&req))); errno != 0 {
			continue // interrupted
		}
		resp := struct {
			id    uint64
			value int64
			err   int32
			flags uint32
		}{id: req.id, flags: notifyContinue}
		if n := f.seen.Add(1); n == f.at.Load() {
			resp.err, resp.flags = -int32(f.errno.Load()), 0
		}
		_, _, _ = syscall.Syscall(syscall.SYS_IOCTL, fd, notifySend, uintptr(unsafe.Pointer(&resp)))
	}
}

// during runs fn with the nth call failing and tells whether it came to that.
func (f *failing) during(n int, fn func() error) (failed bool, err error) {
	f.seen.Store(0)
	f.at.Store(int64(n))
	err = fn()
	f.at.Store(0)
	return f.seen.Load() >= int64(n), err
}

// work is what is done to a journal while its disk fails.
type work struct {
	name string
	do   func(j *Journal) error
}

func works() []work {
	big := strings.Repeat("x", 3<<20)
	return []work{
		{"one event", func(j *Journal) error { return add(j, Event{Kind: Noted, Note: "a"}) }},
		{"many pages", func(j *Journal) error { return add(j, enroll("new", day), Event{Kind: Noted, Note: big[:200_000]}) }},
		{"a longer file", func(j *Journal) error { return add(j, Event{Kind: Noted, Note: big}) }},
		{"erasing", func(j *Journal) error {
			return j.Update(context.Background(), func(tx *Tx) error {
				return errors.Join(tx.Erase("lottie-9", day, "", ""), firstErr(tx.PruneFiles(day, isPeople)))
			})
		}},
		{"rebuilding", func(j *Journal) error { return j.Rebuild() }},
	}
}

// standing is all that a journal holds; it is checked as well.
func standing(j *Journal) (s string, err error) {
	if _, err := j.Verify(); err != nil {
		return "", err
	}
	err = j.View(func(tx *Tx) (err error) { s, err = dump(tx); return err })
	return s, err
}

// failCalls does each work with each of its calls failing in turn.
func failCalls(path string) error {
	f := &failing{}
	if err := f.watch(); err != nil {
		return err
	}
	for _, w := range works() {
		faults, unsure := 0, 0
		for n := 1; ; n++ {
			f.errno.Store(int64([]syscall.Errno{syscall.EIO, syscall.ENOSPC}[n%2]))
			failed, err := underFault(path, w, func(do func() error) (bool, error) { return f.during(n, do) })
			if errors.Is(err, ErrUnsure) {
				unsure, err = unsure+1, nil
			}
			if err != nil {
				return fmt.Errorf("%s, call %d: %w", w.name, n, err)
			}
			if !failed {
				break
			}
			faults++
		}
		fmt.Printf("%s: %d calls failed in turn, %d of them after the last page\n", w.name, faults, unsure)
		if faults < 4 || unsure > 1 {
			return fmt.Errorf("%s: %d faults, %d unsure", w.name, faults, unsure)
		}
	}
	return failCompact(path, f)
}

// failRoom does each work with less and less room for files, so that writes
// fail in their midst too.
func failRoom(path string) error {
	signal.Ignore(syscall.SIGXFSZ)
	var limit syscall.Rlimit
	if err := syscall.Getrlimit(syscall.RLIMIT_FSIZE, &limit); err != nil {
		return err
	}
	for _, w := range works() {
		faults := 0
		for room := uint64(0); room < 8<<20; room += 1900 + room/8 {
			failed, err := underFault(path, w, func(do func() error) (bool, error) {
				if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &syscall.Rlimit{Cur: room, Max: limit.Max}); err != nil {
					return false, err
				}
				err := do()
				return err != nil, errors.Join(err, syscall.Setrlimit(syscall.RLIMIT_FSIZE, &limit))
			})
			if err != nil {
				return fmt.Errorf("%s, %d bytes of room: %w", w.name, room, err)
			}
			if failed {
				faults++
			}
		}
		fmt.Printf("%s: failed at %d sizes of the file\n", w.name, faults)
		if faults < 4 {
			return fmt.Errorf("%s: only %d faults", w.name, faults)
		}
	}
	return nil
}

// underFault does one work on a new journal while something fails. A work that
// failed must have changed nothing, in this process or the next, and must go
// through afterwards. ErrUnsure is handed on once that is checked too: it must
// have changed everything.
func underFault(path string, w work, during func(func() error) (bool, error)) (failed bool, err error) {
	j, err := lottiesFile(path)
	if err != nil {
		return false, err
	}
	defer func() { err = errors.Join(err, j.Close(), os.Remove(path)) }()
	before, err := standing(j)
	if err != nil {
		return false, err
	}
	failed, doErr := during(func() error { return w.do(j) })
	unsure := errors.Is(doErr, ErrUnsure)
	if failed != (doErr != nil) {
		return failed, fmt.Errorf("a call failed: %v, the work: %w", failed, doErr)
	}
	for _, when := range []string{"at once", "opened again"} {
		now, err := standing(j)
		if err != nil {
			return failed, fmt.Errorf("%s: %w", when, err)
		}
		if (now == before) != (failed && !unsure) && w.name != "rebuilding" {
			return failed, fmt.Errorf("%s: failed %v, unsure %v, changed %v", when, failed, unsure, now != before)
		}
		if when == "at once" {
			if err := j.Close(); err != nil {
				return failed, err
			}
			again, err := Open(path, Options{})
			if err != nil {
				return failed, err
			}
			j = again
		}
	}
	if failed && !unsure {
		if err := w.do(j); err != nil {
			return failed, fmt.Errorf("after it: %w", err)
		}
	}
	if err := add(j, Event{Kind: Noted, Note: "goes on"}); err != nil {
		return failed, fmt.Errorf("after it: %w", err)
	}
	if _, err := standing(j); err != nil {
		return failed, fmt.Errorf("after it: %w", err)
	}
	if unsure {
		return failed, doErr
	}
	return failed, nil
}

// failCompact compacts with each call failing in turn: the journal must stay
// as it was, or be the new one whole.
func failCompact(path string, f *failing) error {
	for n := 1; ; n++ {
		j, err := lottiesFile(path)
		if err != nil {
			return err
		}
		before, err := standing(j)
		if err := errors.Join(err, j.Close()); err != nil {
			return err
		}
		f.errno.Store(int64(syscall.EIO))
		failed, compactErr := f.during(n, func() error { return firstErr(sizesOf(Compact(path))) })
		if failed != (compactErr != nil) {
			return fmt.Errorf("compact, call %d failed: %v, but: %w", n, failed, compactErr)
		}
		if _, err := VerifyFile(path); err != nil {
			return fmt.Errorf("compact, call %d: %w", n, err)
		}
		if j, err = Open(path, Options{}); err != nil {
			return err
		}
		after, err := standing(j)
		left, globErr := filepath.Glob(path + "*")
		if err := errors.Join(err, globErr, j.Close(), os.Remove(path)); err != nil {
			return err
		}
		if after != before || len(left) != 1 {
			return fmt.Errorf("compact, call %d: the same %v, files %v", n, after == before, left)
		}
		if !failed {
			fmt.Printf("compacting: %d calls failed in turn\n", n-1)
			return nil
		}
	}
}

func sizesOf(before, after int64, err error) ([2]int64, error) { return [2]int64{before, after}, err }

// A disk that fails at any point of an update leaves what was there before,
// and the next update goes through.
func TestFailingDisk(t *testing.T) {
	for _, env := range []string{callsEnv, roomEnv} {
		t.Run(strings.ToLower(env), func(t *testing.T) {
			cmd := exec.Command(os.Args[0])
			// Without preemption by signals no call is interrupted and begun anew.
			cmd.Env = append(os.Environ(), env+"="+filepath.Join(t.TempDir(), "journal.db"), "GODEBUG=asyncpreemptoff=1")
			out, err := cmd.CombinedOutput()
			t.Logf("%s", out)
			if err != nil {
				t.Error(err)
			}
		})
	}
}
