package journal

import (
	"bytes"
	"errors"
	"github.com/klauspost/compress/s2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// goldenPlain lists the payloads of the golden journals, with their kinds.
func goldenPlain(f *testing.F) (kinds []string, plain [][]byte) {
	f.Helper()
	for _, version := range []string{"v1.db", "v2.db"} {
		path := filepath.Join(f.TempDir(), version)
		data, err := os.ReadFile(goldenDir + version)
		if err == nil {
			err = os.WriteFile(path, data, 0o600)
		}
		if err != nil {
			f.Fatal(err)
		}
		j := open(f, path)
		view(f, j, func(tx *Tx) error {
			return tx.c.walk(&Report{}, func(e *entry) error {
				_, b, err := tx.c.read(u64(e.seq), func([sidSize]byte) *subject { s, _ := tx.c.subject(e.id); return s })
				kinds, plain = append(kinds, string(e.kind)), append(plain, b)
				return err
			})
		})
	}
	return kinds, plain
}

// FuzzRecord: whatever is read as a record is written as the same bytes.
func FuzzRecord(f *testing.F) {
	for _, r := range []record{
		{version: 1, seq: 7, at: day.UnixNano(), kind: Heard, engine: "1"},
		{version: 2, seq: 7, at: day.UnixNano(), kind: Heard, engine: "1", link: 3},
		{version: 2, seq: 7, at: day.UnixNano(), kind: Heard, engine: "1", link: 6},
	} {
		good := r.marshal()
		f.Add(good)
		f.Add(good[:len(good)-1])
		f.Add(append(bytes.Clone(good), 0))
	}
	f.Add([]byte{2})
	f.Add([]byte{3})
	f.Fuzz(func(t *testing.T, b []byte) {
		r, payload, err := parseRecord(u64(7), b)
		if err != nil {
			if !errors.Is(err, ErrDamaged) && !errors.Is(err, ErrFormat) {
				t.Errorf("unnamed error: %v", err)
			}
			return
		}
		if again := append(r.marshal(), payload...); !bytes.Equal(again, b) {
			t.Errorf("read %x, wrote %x", b, again)
		}
	})
}

// FuzzPayload: a payload of any kind, from a person or the clinic, is refused
// or applied, and what was applied is what a replay gives.
func FuzzPayload(f *testing.F) {
	kinds, plain := goldenPlain(f)
	for i := range plain {
		f.Add(kinds[i], i%2 == 0, plain[i])
	}
	f.Add("settled", true, []byte(`{"key":"a","result":{"status":"sent","id":"x"}}`))
	f.Add("polled", false, []byte(`{"channel":"","point":"2026-10-05T14:00:00Z"}`))
	f.Add("polled", true, []byte(`{"channel":"`+strings.Repeat("x", 40000)+`","point":"2026-10-05T14:00:00Z"}`))
	f.Add("erased", false, []byte(`{"erasure":{"hash":"","subject":"AAAA"}}`))
	j := filled(f, filepath.Join(f.TempDir(), "fuzzed.db"))
	f.Fuzz(func(t *testing.T, kind string, clinic bool, plain []byte) {
		b, err := parseBody(plain)
		if err != nil {
			return
		}
		undo := errors.New("undo")
		err = j.Update(t.Context(), func(tx *Tx) error {
			id := "p1"
			if clinic {
				id = ""
			}
			if !Kind(kind).known() {
				return undo
			}
			e := &entry{seq: tx.LastSeq() + 1, at: day, kind: Kind(kind), id: id, body: b}
			ops, err := tx.c.plan(e)
			if err != nil {
				if !errors.Is(err, ErrInvalid) && !errors.Is(err, ErrKeyTaken) && !errors.Is(err, ErrDamaged) {
					t.Errorf("unnamed error: %v", err)
				}
				return undo
			}
			tx.wrote = true
			if err := tx.c.apply(ops); err != nil {
				t.Errorf("a checked event cannot be written: %v", err)
			}
			late := time.Unix(1<<33, 0)
			_, err1 := tx.AlertsDue(late, 0)
			_, err2 := tx.HandedRows()
			_, err3 := tx.LookUps(late, 0)
			_, err4 := tx.Watched(late, 0)
			if err := errors.Join(err1, err2, err3, err4); err != nil && !errors.Is(err, ErrDamaged) {
				t.Error(err)
			}
			return undo
		})
		if !errors.Is(err, undo) {
			t.Error(err)
		}
	})
}

// FuzzDamage: a file with bytes changed anywhere is verified or refused; it
// never takes the process down or holds it up.
func FuzzDamage(f *testing.F) {
	dir := f.TempDir()
	good := filepath.Join(dir, "good.db")
	backupTo(f, lottiesJournal(f, filepath.Join(dir, "journal.db")), good)
	data, err := os.ReadFile(good)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(uint32(0), []byte{1}, uint32(0))
	f.Add(uint32(4096+16), []byte{0, 0, 0, 0}, uint32(0))
	f.Add(uint32(3*4096+10), []byte{255, 255}, uint32(0))       // a count
	f.Add(uint32(4*4096+12), []byte{0, 0, 0, 65}, uint32(0))    // pages that follow
	f.Add(uint32(5*4096+16), []byte{0, 0, 0, 128}, uint32(100)) // a position
	f.Fuzz(func(t *testing.T, at uint32, change []byte, cut uint32) {
		bad := bytes.Clone(data[:len(data)-int(cut)%len(data)])
		for i, b := range change {
			bad[(int(at)+i)%len(bad)] ^= b
		}
		path := filepath.Join(t.TempDir(), "bad.db")
		if err := os.WriteFile(path, bad, 0o600); err != nil {
			t.Fatal(err)
		}
		rep, err := VerifyFile(path)
		if err == nil && rep.Events != 27 {
			t.Errorf("verified, with %+v", rep)
		}
		if err != nil && !errors.Is(err, ErrDamaged) && !errors.Is(err, ErrFormat) {
			t.Errorf("unnamed error: %v", err)
		}
	})
}

// FuzzPack: whatever is packed is unpacked as it was, and what was never packed
// is refused or unpacked without more ado.
func FuzzPack(f *testing.F) {
	_, plain := goldenPlain(f)
	for _, p := range plain {
		f.Add(p)
		f.Add(pack(p))
	}
	f.Add(append([]byte{packed1}, 0xff, 0xff, 0xff, 0xff, 0x0f)) // claims 4 GiB
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) == 0 || b[0] != packed1 {
			if again, err := unpack(pack(b)); err != nil || !bytes.Equal(again, b) {
				t.Errorf("%q comes back as %q, %v", b, again, err)
			}
		}
		if n, err := s2.DecodedLen(b[min(1, len(b)):]); err == nil && n < 1<<20 {
			_, _ = unpack(b)
		}
	})
}
