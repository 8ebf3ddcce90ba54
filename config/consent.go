package config

import (
	"slices"
	"strings"
	"unicode"
)

// agreed reads how consent was given. Who writes there that the patient did not
// agree, or did not yet, must not be taken at their word that something stands
// there: the patient would get messages.
func (n *notes) agreed(v Value) string {
	how, ok := n.line(v, 200)
	if ok && refusal(how) {
		n.wrong(v.At, v.Key+" does not say that the patient agreed", "ask the patient, and enroll only who agrees; then write how, like in writing")
		return ""
	}
	return how
}

var (
	// refusing begin a refusal, in the languages that messages ship in.
	refusing = [][]string{
		{"no"}, {"n"}, {"nope"}, {"not"}, {"never"}, {"declined"}, {"declines"}, {"refused"}, {"refuses"}, {"didn't"}, {"did", "not"}, {"doesn't"}, {"does", "not"}, {"won't"},
		{"nunca"}, {"aun", "no"}, {"todavia", "no"}, {"se", "nego"}, {"se", "niega"}, {"rechazo"}, {"rechaza"}, {"rechazado"}, {"rehuso"},
	}
	// nothing are whole answers that tell of no consent.
	nothing = []string{"none", "nothing", "false", "pending", "unknown", "ninguno", "ninguna", "nada", "falso", "pendiente"}
)

// refusal tells a text that says no, or says nothing, from how somebody agreed.
func refusal(how string) bool {
	words := strings.FieldsFunc(strings.ToLower(plainLetters(how)), func(r rune) bool { return !unicode.IsLetter(r) && r != '\'' })
	if len(words) == 0 {
		return true // a dash, a question mark
	}
	if len(words) == 1 && slices.Contains(nothing, words[0]) {
		return true
	}
	return slices.ContainsFunc(refusing, func(begin []string) bool {
		return len(words) >= len(begin) && slices.Equal(words[:len(begin)], begin)
	})
}
