package main

import (
	"bytes"
	"strings"
	"testing"

	"stepgate/config"
)

// TestGreeting names the addresses to open, where there are any.
func TestGreeting(t *testing.T) {
	for _, c := range []config.Clinic{{Name: "Harbor Foot Clinic"}, {Name: "Harbor Foot Clinic", Reports: "127.0.0.1:8091", Metrics: "127.0.0.1:9464"}} {
		var out bytes.Buffer
		greet(&out, "my-clinic", &c, 0)
		for address, want := range map[string]bool{"http://127.0.0.1:8091/\n": c.Reports != "", "http://127.0.0.1:9464/metrics\n": c.Metrics != ""} {
			if strings.Contains(out.String(), address) != want {
				t.Errorf("%q is said %v, want %v:\n%s", address, !want, want, out.String())
			}
		}
	}
}
