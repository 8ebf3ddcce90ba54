package templates

import "sync"

// memoMost is how many values one half of a memo holds. Those of texts take
// about 1 KiB each, so that a memo takes 4 MiB at most.
const memoMost = 2048

// memo keeps the values that were worked out from keys of late. A nil one
// keeps nothing. It is safe for use by several goroutines.
type memo[K comparable, V any] struct {
	mu  sync.RWMutex
	new map[K]V
	old map[K]V // as it was full; what is asked for again is taken over
}

// get is what work gives for a key, which must depend on nothing else.
func (m *memo[K, V]) get(k K, work func(K) V) V {
	if m == nil {
		return work(k)
	}
	m.mu.RLock()
	v, ok := m.new[k]
	was := ok
	if !ok {
		v, was = m.old[k]
	}
	m.mu.RUnlock()
	if ok {
		return v
	}
	if !was {
		v = work(k)
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	if len(m.new) >= memoMost {
		m.old, m.new = m.new, nil
	}
	if m.new == nil {
		m.new = make(map[K]V)
	}
	m.new[k] = v
	return v
}

// scores are those of the scale of pain, each at one place, so that what points
// at the same score is the same.
var scores = [11]int{0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10}

// known gives a score its place. No score is known as well.
func known(n *int) (*int, bool) {
	if n == nil {
		return nil, true
	}
	if *n < 0 || *n >= len(scores) {
		return n, false
	}
	return &scores[*n], true
}
