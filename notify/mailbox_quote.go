package notify

import (
	"regexp"
	"strings"
)

// ownWords is a text without what it quotes and without signatures, in lines.
//
// Where every quoted line has its mark, only they and their lead-in go: what
// stands between and beneath them was written by the person. Where a lead-in
// or a head is followed by a quote without marks, nobody can tell where it
// ends, and everything after it goes.
func ownWords(text string) string {
	lines := strings.Split(nothingUnseen.Replace(text), "\n")
	var kept []string
	for i := 0; i < len(lines); i++ {
		line := strings.TrimSpace(lines[i])
		if line == "--" || original.MatchString(line) || headBlock(lines[i:]) {
			break // RFC 3676 section 4.3 for the first
		}
		if strings.HasPrefix(line, ">") || ruler.MatchString(line) || sentFrom.MatchString(line) {
			continue
		}
		if n := leadInLines(lines[i:]); n > 0 {
			if next := nextLine(lines[i+n:]); next != "" && !strings.HasPrefix(next, ">") {
				break
			}
			i += n - 1
			continue
		}
		kept = append(kept, line)
	}
	return strings.TrimSpace(manyBlank.ReplaceAllString(strings.Join(kept, "\n"), "\n\n"))
}

var (
	// nothingUnseen makes blanks of every kind plain and leaves out what nobody
	// sees.
	nothingUnseen = strings.NewReplacer("\u00a0", " ", "\u202f", " ", "\u200b", "", "\ufeff", "", "\r", "")

	// ruler is a line drawn across.
	ruler     = regexp.MustCompile(`^[-_=*]{5,}$`)
	manyBlank = regexp.MustCompile(`\n{3,}`)
	// dated is what a lead-in tells: a date, or an address.
	dated = regexp.MustCompile(`[0-9@]`)
)

// maxLeadIn is how many lines a lead-in may be broken over.
const maxLeadIn = 3

// leadInLines is how many of the first lines are a lead-in; 0: none are. In a
// language that is not known, a line with an address that ends in a colon and
// stands before marked lines is one.
func leadInLines(lines []string) int {
	joined := ""
	for n := 1; n <= min(maxLeadIn, len(lines)); n++ {
		line := strings.TrimSpace(lines[n-1])
		if line == "" || strings.HasPrefix(line, ">") {
			return 0
		}
		joined = strings.TrimSpace(joined + " " + line)
		if len(joined) > maxHeaderText {
			return 0
		}
		if !strings.HasSuffix(joined, ":") || !dated.MatchString(joined) {
			continue
		}
		for _, l := range leadIns {
			if l.begin.MatchString(joined) && l.end.MatchString(joined) {
				return n
			}
		}
		if strings.Contains(joined, "@") && strings.HasPrefix(nextLine(lines[n:]), ">") {
			return n
		}
	}
	return 0
}

// headBlock tells whether the first lines are the header of a mail, as some
// programs put it over what they quote: an author, and two more fields.
func headBlock(lines []string) bool {
	if !author.MatchString(strings.TrimSpace(lines[0])) {
		return false
	}
	labels := 0
	for i := 1; i < min(8, len(lines)); i++ {
		if line := strings.TrimSpace(lines[i]); label.MatchString(line) {
			labels++
		}
	}
	return labels >= 2
}

// nextLine is the first line that is not blank; empty: there is none.
func nextLine(lines []string) string {
	for _, line := range lines {
		if line = strings.TrimSpace(line); line != "" {
			return line
		}
	}
	return ""
}
