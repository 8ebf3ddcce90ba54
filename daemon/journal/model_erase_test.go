package journal

import (
	"fmt"
	"maps"
	"strings"
	"time"

	"pgregory.net/rapid"
)

func newModel() *model {
	return &model{people: map[string]*Person{}, rows: map[string]*Row{}, seen: map[string]uint64{}, opted: map[string]bool{},
		spent: map[string]int{}, causes: map[string]string{}, alerts: map[uint64]time.Time{}, done: map[uint64]bool{},
		about: map[uint64]string{}, hearer: map[string]string{}, erased: map[string]int{}}
}

func logLine(seq uint64, kind Kind, id string) string { return fmt.Sprintf("%d %s %q", seq, kind, id) }

// erase forgets a person, the simplest way there is.
func (m *model) erase(id string) error {
	if m.people[id] == nil {
		return ErrInvalid
	}
	delete(m.people, id)
	delete(m.spent, id)
	maps.DeleteFunc(m.rows, func(_ string, r *Row) bool { return r.Enrollment == id })
	maps.DeleteFunc(m.causes, func(_, about string) bool { return about == id })
	for key, who := range m.hearer {
		if who == id {
			delete(m.hearer, key)
			m.seen[key] = m.seq + 1 // by the erasure, which remembers it
		}
	}
	for seq, who := range m.about {
		if who == id {
			delete(m.about, seq)
			delete(m.alerts, seq)
		}
	}
	kept := m.log[:0]
	for _, line := range m.log {
		if !strings.HasSuffix(line, fmt.Sprintf(" %q", id)) {
			kept = append(kept, line)
		}
	}
	m.seq++
	m.log = append(kept, logLine(m.seq, Erased, ""))
	m.erased[id]++
	return nil
}

// compareErased checks that what was forgotten is, and that nobody else was.
func (m *model) compareErased(t *rapid.T, tx *Tx) {
	for _, id := range []string{"p1", "p2", "p3", "p4"} {
		if tx.IsErased(id) != (m.erased[id] > 0) {
			t.Fatalf("%s erased: %v, want %d times", id, tx.IsErased(id), m.erased[id])
		}
	}
	for _, key := range []string{"k1", "k2", "k3", "k4", "k5"} {
		if r, err := tx.Row(key); err != nil || (r != nil) != (m.rows[key] != nil) {
			t.Fatalf("row %s: %+v, %v, want %+v", key, r, err, m.rows[key])
		}
		if _, told := m.causes[key]; tx.AlertKnown(key) != told {
			t.Fatalf("cause %s known: %v, want %v", key, !told, told)
		}
	}
}

func erasuresAre(t *rapid.T, tx *Tx, want int) error {
	list, err := tx.Erasures()
	if len(list) != want {
		t.Fatalf("%d erasures, want %d", len(list), want)
	}
	return err
}
