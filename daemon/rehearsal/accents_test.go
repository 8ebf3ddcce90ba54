package rehearsal

import (
	"strings"
	"testing"

	"stepgate/config"
	"stepgate/rules"
)

// TestAccents: a text in Spanish is GSM-7, without the accents that lacks; where
// the clinic wants them kept it is UCS-2 and takes more segments, which is what
// it asked for and no warning.
func TestAccents(t *testing.T) {
	segments := map[bool]int{}
	for _, keep := range []bool{false, true} {
		c := byText(t, func(c *config.Clinic, e *config.Enrollment, p *rules.Program) {
			e.Language = "es"
			p.Exercises["toe-pull"].Name = rules.Text{"en": "Toe pull", "es": "Jalar más los dedos"}
			c.SMS = &config.SMS{Accents: keep}
		})
		costs, problems := Costs(words(), c)
		for _, p := range problems {
			if strings.Contains(p.What, "UCS-2") {
				t.Errorf("keep %v: %v", keep, p)
			}
		}
		for _, x := range costs {
			if x.Language != "es" {
				continue
			}
			wide, accents := x.Encoding == "UCS-2", strings.Contains(x.Text, "más")
			if wide != keep || x.Kind == "daily" && accents != keep {
				t.Errorf("keep %v: %s, %s:\n%s", keep, x.Kind, x.Encoding, x.Text)
			}
			if x.Kind == "daily" {
				segments[keep] = x.Segments
			}
			if !keep && !strings.Contains(x.Text, "¿") && x.Kind == "first" {
				t.Errorf("%s has lost a mark that GSM-7 has:\n%s", x.Kind, x.Text)
			}
		}
	}
	if segments[false] == 0 || segments[true] <= segments[false] {
		t.Errorf("segments %v", segments)
	}
}
