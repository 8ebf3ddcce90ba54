package rules_test

import (
	"flag"
	"os"
	"testing"
)

// TestMain sets how many random lives each property lives through, unless
// -rapid.checks says otherwise: some seconds' worth. The rarest faults took
// thousands; TestPairsThatWereAtOdds keeps those.
func TestMain(m *testing.M) {
	flag.Parse()
	given := false
	flag.Visit(func(f *flag.Flag) { given = given || f.Name == "rapid.checks" })
	if !given {
		if err := flag.Set("rapid.checks", "200"); err != nil {
			panic(err)
		}
	}
	os.Exit(m.Run())
}
