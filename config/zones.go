package config

import (
	"strings"
	"sync"
	"time"
)

// zones are the time zones that one reading of a folder has met: each is read
// once, and all who live in it share it. They are safe to use at the same time.
type zones struct{ known sync.Map }

// named is a zone by its IANA name.
func (z *zones) named(name string) (*time.Location, bool) {
	if known, ok := z.known.Load(name); ok {
		return known.(*time.Location), true
	}
	zone, err := time.LoadLocation(name)
	if err != nil || strings.EqualFold(name, "local") {
		return nil, false
	}
	known, _ := z.known.LoadOrStore(name, zone)
	return known.(*time.Location), true
}

// read reads a zone that a file names.
func (z *zones) read(n *notes, v Value) (*time.Location, bool) {
	if !v.given() {
		return nil, false
	}
	zone, ok := z.named(v.Text)
	if !ok {
		n.wrong(v.At, "unknown time zone "+quoted(v.Text), "write an IANA name, like America/New_York or Europe/London")
	}
	return zone, ok
}
