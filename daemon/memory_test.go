package daemon

import (
	"slices"
	"testing"
	"time"
)

// The collector has more room while very many are enrolled or much is going on,
// and the usual otherwise.
func TestCollecting(t *testing.T) {
	var grown []int
	c := &collecting{grow: func(percent int) int { grown = append(grown, percent); return 0 }}
	says := func(what string, want ...int) {
		t.Helper()
		if !slices.Equal(grown, want) {
			t.Errorf("%s: growth %v, want %v", what, grown, want)
		}
		grown = nil
	}
	for range 5 {
		c.did(busyFrom/5 - 1)
	}
	says("a quiet minute")
	c.did(5)
	says("a busy one", moreGrowth)
	c.enrolled(true)
	c.did(busyFrom)
	c.still()
	says("busy still, and very many")
	c.still()
	says("quiet, but very many")
	c.did(busyFrom)
	c.enrolled(false)
	says("busy, and not as many")
	c.still()
	says("quiet again", usualGrowth)
	c.did(busyFrom - 1)
	c.since = time.Now().Add(-2 * busyFor)
	c.did(busyFrom - 1)
	says("many messages within long")
	c.did(busyFrom)
	says("and then within a minute", moreGrowth)
	c.still()
	says("and no more", usualGrowth)
}
