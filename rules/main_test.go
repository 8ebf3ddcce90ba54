package rules_test

import (
	"flag"
	"os"
	"testing"
)

// TestMain sets how many random lives each property lives through, unless
// -rapid.checks says otherwise: enough to find every fault these properties
// ever found, in a few seconds.
func TestMain(m *testing.M) {
	flag.Parse()
	given := false
	flag.Visit(func(f *flag.Flag) { given = given || f.Name == "rapid.checks" })
	if !given {
		if err := flag.Set("rapid.checks", "400"); err != nil {
			panic(err)
		}
	}
	os.Exit(m.Run())
}
