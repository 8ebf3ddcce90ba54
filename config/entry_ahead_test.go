package config

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"stepgate/rules"
)

// TestEntriesAhead: an entry dated days ahead is warned of, as one made in quick
// time is; the release written with a hold is not.
func TestEntriesAhead(t *testing.T) {
	today := rules.DateOf(time.Now())
	for text, want := range map[string]string{
		fmt.Sprintf("{hold: %s, by: J}", today+20):                                                                      "the entry is dated ",
		fmt.Sprintf("{discharge: %s, by: J}", today+20):                                                                 "made in quick time has its made-up date",
		fmt.Sprintf("{hold: %s, by: J}", today+1):                                                                       "",
		fmt.Sprintf("{release: %s, of hold: %s, by: J}", today+20, today):                                               "",
		fmt.Sprintf("{report: %s, said: P2, by: J, why: first}", today):                                                 "",
		fmt.Sprintf("{report: %s, said: P2, by: J}\n      - {report: %[1]s, said: P2, by: J}", today):                   `tell a second call apart with why, like why: "second call, 14:20"`,
		fmt.Sprintf("{report: %s, said: P2, by: J}\n      - {report: %[1]s, said: P2, by: J, why: second call}", today): "",
	} {
		files := base()
		files[enrollmentsFile] = "enrollments:\n" + adaKeys + "    entries:\n      - " + text + "\n"
		c, problems := LoadFiles("/clinic", filesOf(files), nil)
		told := fmt.Sprint(problems)
		if c == nil || want == "" && len(problems) > 0 || !strings.Contains(told, want) {
			t.Errorf("%s: %s; want %q", text, told, want)
		}
	}
}
