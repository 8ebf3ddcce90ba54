package journal

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	bolt "go.etcd.io/bbolt"
)

// filled is a journal with something in every bucket.
func filled(t testing.TB, path string) *Journal {
	t.Helper()
	j := open(t, path)
	err := j.Update(t.Context(), func(tx *Tx) error {
		hash, err := tx.PutFile([]byte("clinic: Elm Street Foot Care\n"))
		if err != nil {
			return err
		}
		return firstErr(tx.Append(Event{Kind: Accepted, At: day, Files: []FileRef{{Path: "stepgate.yaml", Hash: hash}}}))
	})
	if err != nil {
		t.Fatal(err)
	}
	mustAdd(t, j, enroll("p1", day), enroll("p2", day), daily("p1", "a"), daily("p2", "b"), handed("p1", "a"),
		Event{Kind: Heard, ID: "p2", In: &In{Channel: "sms", ID: "SM1", From: "+12025550142"}},
		Event{Kind: Opted, Contact: []byte("hash"), OptOut: true})
	return j
}

// copyOf closes a journal and opens a copy that may be damaged freely.
func copyOf(t *testing.T, j *Journal) *Journal {
	t.Helper()
	path := filepath.Join(t.TempDir(), "copy.db")
	err := j.db.View(func(btx *bolt.Tx) error { return btx.CopyFile(path, 0o600) })
	if err != nil {
		t.Fatal(err)
	}
	k, err := Open(path, Options{NoSync: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		boltCheck(t, k)
		if err := k.Close(); err != nil {
			t.Error(err)
		}
	})
	return k
}

// flip changes the byte at i of a value; negative i counts from its end.
func flip(b *bolt.Bucket, key []byte, i int) error {
	v := append([]byte{}, b.Get(key)...)
	if i < 0 {
		i += len(v)
	}
	v[i] ^= 1
	return b.Put(key, v)
}

func swap(b *bolt.Bucket, x, y []byte) error {
	vx, vy := append([]byte{}, b.Get(x)...), append([]byte{}, b.Get(y)...)
	return errors.Join(b.Put(x, vy), b.Put(y, vx))
}

func TestDamageIsFound(t *testing.T) {
	j := filled(t, filepath.Join(t.TempDir(), "journal.db"))
	type buckets = func(bucketID) *bolt.Bucket
	cases := map[string]func(b buckets) error{
		"payload byte":     func(b buckets) error { return flip(b(inEvents), u64(4), -9) },
		"nonce byte":       func(b buckets) error { return flip(b(inEvents), u64(4), sizeOf(b, 4)) },
		"payload cut":      func(b buckets) error { return b(inEvents).Put(u64(4), b(inEvents).Get(u64(4))[:sizeOf(b, 4)+2]) },
		"payload gone":     func(b buckets) error { return bare(b, 4) },
		"payloads swapped": func(b buckets) error { return swapPayloads(b, 4, 5) },
		"stray payload":    func(b buckets) error { return b(inPayloads).Put(u64(4), []byte("x")) },
		"payload of none":  func(b buckets) error { return b(inPayloads).Put(u64(99), []byte("x")) },
		"record gone":      func(b buckets) error { return b(inEvents).Delete(u64(4)) },
		"newest gone": func(b buckets) error {
			return b(inEvents).Delete(u64(8))
		},
		"records swapped": func(b buckets) error {
			return errors.Join(swap(b(inEvents), u64(4), u64(5)), swapPayloads(b, 4, 5))
		},
		"events swapped":   func(b buckets) error { return swap(b(inEvents), u64(4), u64(5)) },
		"index line gone":  func(b buckets) error { return b(inBySubject).Delete(first(b(inBySubject))) },
		"stray index line": func(b buckets) error { return b(inBySubject).Put([]byte("abc"), []byte{}) },
		"head":             func(b buckets) error { return flip(b(inMeta), keyHead, 20) },
		"head cut":         func(b buckets) error { return b(inMeta).Put(keyHead, []byte{1}) },
		"kept file":        func(b buckets) error { return flip(b(inFiles), first(b(inFiles)), 3) },
		"wrong key":        func(b buckets) error { return flip(b(inSubjects), []byte("p1"), -1) },
		"clinic's key":     func(b buckets) error { return b(inSubjects).Delete([]byte(keyClinic)) },
		"person":           func(b buckets) error { return b(inPeople).Delete([]byte("p1")) },
		"due":              func(b buckets) error { return b(inDue).Put(dueKey(day, "p1"), []byte{}) },
		"outbox":           func(b buckets) error { return flip(b(inOutbox), first(b(inOutbox)), 3) },
		"waiting":          func(b buckets) error { return b(inWaiting).Delete(first(b(inWaiting))) },
		"handed":           func(b buckets) error { return b(inHanded).Delete(first(b(inHanded))) },
		"seen":             func(b buckets) error { return flip(b(inSeen), first(b(inSeen)), 7) },
		"subject gone":     func(b buckets) error { return b(inSubjects).Delete([]byte("p1")) },
		"subject and payloads gone": func(b buckets) error {
			return errors.Join(b(inSubjects).Delete([]byte("p1")), bare(b, 2), bare(b, 4), bare(b, 6))
		},
		"file gone":         func(b buckets) error { return b(inFiles).Delete(first(b(inFiles))) },
		"accepted set gone": func(b buckets) error { return bare(b, 1) },
		"opt-out":           func(b buckets) error { return b(inOptOut).Delete([]byte("hash")) },
		"accepted":          func(b buckets) error { return b(inAccepted).Delete(keyAccepted) },
	}
	for name, damage := range cases {
		t.Run(name, func(t *testing.T) {
			k := copyOf(t, j)
			if _, err := k.Verify(); err != nil {
				t.Fatalf("undamaged copy: %v", err)
			}
			poke(t, k, damage)
			if _, err := k.Verify(); !errors.Is(err, ErrDamaged) {
				t.Errorf("verify: %v, want ErrDamaged", err)
			}
		})
	}
}

// A key or a payload that is missing without an event that let go of it is
// damage, also where a rebuild would make the rest fit.
func TestLostIsNotErased(t *testing.T) {
	path := filepath.Join(t.TempDir(), "journal.db")
	j := lottiesJournal(t, path)
	if err := accept(j, "stepgate.yaml", "clinic: x\n", "enrollments.yaml", noLottie); err != nil {
		t.Fatal(err)
	}
	for name, lose := range map[string]func(b func(bucketID) *bolt.Bucket) error{
		"a person": func(b func(bucketID) *bolt.Bucket) error {
			sub := append([]byte{}, b(inSubjects).Get([]byte("p1"))...)
			err := b(inSubjects).Delete([]byte("p1"))
			for _, key := range eventsOf(b, sub[:sidSize]) {
				err = errors.Join(err, bare(b, binary.BigEndian.Uint64(key)))
			}
			return err
		},
		"an older set": func(b func(bucketID) *bolt.Bucket) error { return bare(b, 1) },
	} {
		k := copyOf(t, j)
		poke(t, k, lose)
		if err := k.Rebuild(); !errors.Is(err, ErrDamaged) {
			t.Errorf("%s is lost, and a rebuild says %v", name, err)
		}
		if _, err := k.Verify(); !errors.Is(err, ErrDamaged) {
			t.Errorf("%s is lost, and verifying says %v", name, err)
		}
	}
}

func first(b *bolt.Bucket) []byte { k, _ := b.Cursor().First(); return append([]byte{}, k...) }

// eventsOf are the keys of a subject's events, as the records have it.
func eventsOf(b func(bucketID) *bolt.Bucket, sid []byte) (keys [][]byte) {
	cur := b(inEvents).Cursor()
	for k, v := cur.First(); k != nil; k, v = cur.Next() {
		if r, _, err := parseRecord(k, v); err == nil && bytes.Equal(r.sid[:], sid) {
			keys = append(keys, bytes.Clone(k))
		}
	}
	return keys
}

// Every byte of a record counts.
func TestEveryRecordByte(t *testing.T) {
	k := copyOf(t, filled(t, filepath.Join(t.TempDir(), "journal.db")))
	var size int
	poke(t, k, func(b func(bucketID) *bolt.Bucket) error { size = len(b(inEvents).Get(u64(4))); return nil })
	for i := range size {
		change := func(b func(bucketID) *bolt.Bucket) error { return flip(b(inEvents), u64(4), i) }
		poke(t, k, change)
		if _, err := k.Verify(); !errors.Is(err, ErrDamaged) && !errors.Is(err, ErrFormat) {
			t.Errorf("byte %d of %d: %v", i, size, err)
		}
		poke(t, k, change) // back
	}
	checkWhole(t, k)
}

// Nothing of a person is in the clear in what outlives erasing.
func TestRecordNamesNobody(t *testing.T) {
	j := filled(t, filepath.Join(t.TempDir(), "journal.db"))
	mustAdd(t, j, enroll("enrollment-7", day), daily("enrollment-7", "c"))
	poke(t, j, func(b func(bucketID) *bolt.Bucket) error {
		for _, id := range []bucketID{inEvents, inBySubject} {
			cur := b(id).Cursor()
			for k, v := cur.First(); k != nil; k, v = cur.Next() {
				for _, word := range []string{"enrollment-7", "robin", "2025550142"} {
					if strings.Contains(string(k)+string(v), word) {
						t.Errorf("%s holds %q", bucketNames[id], word)
					}
				}
			}
		}
		return nil
	})
}

func TestRebuild(t *testing.T) {
	j := filled(t, filepath.Join(t.TempDir(), "journal.db"))
	poke(t, j, func(b func(bucketID) *bolt.Bucket) error {
		return errors.Join(b(inPeople).Put([]byte("ghost"), []byte("{}")), b(inOutbox).Delete(first(b(inOutbox))),
			b(inDue).Put(dueKey(day, "ghost"), []byte{}))
	})
	if _, err := j.Verify(); !errors.Is(err, ErrDamaged) {
		t.Fatalf("verify: %v", err)
	}
	if err := j.Rebuild(); err != nil {
		t.Fatal(err)
	}
	checkWhole(t, j)
	mustAdd(t, j, Event{Kind: Settled, ID: "p1", Key: "a", Result: &Result{Status: "sent"}})

	// A chain that does not hold is no ground to build on: all stays as it is.
	k := copyOf(t, j)
	poke(t, k, func(b func(bucketID) *bolt.Bucket) error { return flip(b(inEvents), u64(4), -9) })
	if err := k.Rebuild(); !errors.Is(err, ErrDamaged) {
		t.Errorf("rebuild over a damaged chain: %v", err)
	}
	view(t, k, func(tx *Tx) error {
		if p, err := tx.Person("p1"); p == nil || err != nil {
			t.Errorf("a failed rebuild lost somebody: %v", err)
		}
		return nil
	})
}

// A replay longer than one commit of the temporary file, while updates go on.
// The folder holds nothing but the journal afterwards.
func TestLongVerify(t *testing.T) {
	dir := t.TempDir()
	j := open(t, filepath.Join(dir, "journal.db"))
	const n = replayBatch + 10
	err := j.Update(t.Context(), func(tx *Tx) error {
		if _, err := tx.Append(at(enroll("p1", day))); err != nil {
			return err
		}
		for i := range n {
			due := day.Add(time.Duration(i) * time.Second)
			if _, err := tx.Append(Event{Kind: Skipped, ID: "p1", At: due, Due: &due}); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	errc := make(chan error)
	go func() { errc <- add(j, Event{Kind: Noted, Note: "meanwhile"}) }()
	rep, err := j.Verify()
	if err := errors.Join(err, <-errc); err != nil {
		t.Fatal(err)
	}
	if rep.Events != n+1 && rep.Events != n+2 {
		t.Errorf("report %+v", rep)
	}
	if left, err := os.ReadDir(dir); err != nil || len(left) != 1 {
		t.Errorf("folder holds %v, %v", left, err)
	}
}

func at(e Event) Event { e.At = day; return e }

// The records' layouts, byte by byte, as format.go has them.
func TestRecordLayout(t *testing.T) {
	old := record{version: 1, seq: 0x0102, at: 0x0304, kind: Heard, engine: "1"}
	old.prev[0], old.sid[15], old.payload[31] = 0xaa, 0xbb, 0xcc
	want := []byte{1, 0xaa}
	want = append(want, make([]byte, 31)...)
	want = binary.BigEndian.AppendUint64(want, 0x0102)
	want = binary.BigEndian.AppendUint64(want, 0x0304)
	want = append(append(want, make([]byte, 15)...), 0xbb)
	want = append(append(append(want, 5), "heard"...), 1, '1')
	want = append(append(want, make([]byte, 31)...), 0xcc)
	recordLies(t, old, want, sha256.Sum256(want))

	r := record{version: 2, seq: 0x0102, at: 0x0304, kind: Heard, link: 0x0100, engine: "1"}
	r.sid[15], r.payload[31] = 0xbb, 0xcc
	want = binary.BigEndian.AppendUint64([]byte{2}, 0x0304)
	want = append(append(want, make([]byte, 15)...), 0xbb, 11, 2, 1, '1')
	want = append(append(want, make([]byte, 31)...), 0xcc)
	all := append(bytes.Repeat([]byte{9}, 32), 0, 0, 0, 0, 0, 0, 1, 2)
	recordLies(t, r, want, sha256.Sum256(append(all, want...)))
}

// sizeOf is how long the record of an event is, without its payload.
func sizeOf(b func(bucketID) *bolt.Bucket, seq uint64) int {
	v := b(inEvents).Get(u64(seq))
	_, payload, err := parseRecord(u64(seq), v)
	if err != nil || len(payload) == 0 {
		return -1 << 30 // cannot be meant
	}
	return len(v) - len(payload)
}

// bare takes the payload of an event away.
func bare(b func(bucketID) *bolt.Bucket, seq uint64) error {
	v := bytes.Clone(b(inEvents).Get(u64(seq)))
	return b(inEvents).Put(u64(seq), v[:sizeOf(b, seq)])
}

func swapPayloads(b func(bucketID) *bolt.Bucket, x, y uint64) error {
	vx, vy := bytes.Clone(b(inEvents).Get(u64(x))), bytes.Clone(b(inEvents).Get(u64(y)))
	nx, ny := sizeOf(b, x), sizeOf(b, y)
	return errors.Join(b(inEvents).Put(u64(x), slices.Concat(vx[:nx], vy[ny:])), b(inEvents).Put(u64(y), slices.Concat(vy[:ny], vx[nx:])))
}

func recordLies(t *testing.T, r record, want []byte, hash [32]byte) {
	t.Helper()
	key, b := u64(r.seq), r.marshal()
	if !bytes.Equal(b, want) {
		t.Errorf("got  %x\nwant %x", b, want)
	}
	if got, rest, err := parseRecord(key, b); err != nil || got != r || rest != nil {
		t.Errorf("parsed %+v, %v", got, err)
	}
	if got := r.hash([32]byte(bytes.Repeat([]byte{9}, 32)), b); got != hash {
		t.Errorf("hash %x, want %x", got, hash)
	}
	for n := range b {
		if _, _, err := parseRecord(key, b[:n]); err == nil {
			t.Errorf("a record cut to %d bytes was read", n)
		}
	}
	_, rest, err := parseRecord(key, append(b, 7))
	if r.version == 1 && err == nil || r.version == 2 && (err != nil || !bytes.Equal(rest, []byte{7})) {
		t.Errorf("a record with a byte more was read, behind it %x, %v", rest, err)
	}
}
