package reply

import "strings"

// echo tells a phone's reaction that quotes our own text: one of the
// vocabulary's beginnings, then a quote that closes at the very end. Anything
// after the quote was written by the patient, so it is no echo.
func (r *Reader) echo(s string) bool {
	s = strings.TrimSpace(strings.ToLower(string(normalize(s))))
	open := strings.IndexByte(s, '"')
	if open < 0 || !strings.HasSuffix(s, `"`) || open == len(s)-1 {
		return false
	}
	start := strings.Join(strings.Fields(s[:open]), " ")
	for _, e := range r.echoes {
		if head, tail, gap := strings.Cut(e, " ... "); gap {
			if strings.HasPrefix(start, head+" ") && strings.HasSuffix(start, " "+tail) {
				return true
			}
		} else if start == e {
			return true
		}
	}
	return false
}
