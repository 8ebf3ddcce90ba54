package config

import "testing"

// TestRefusals: what stands under how consent was given, and tells of none.
func TestRefusals(t *testing.T) {
	for text, want := range map[string]bool{
		"no": true, "NO.": true, "n": true, "none": true, "Not yet": true, "refused": true, "refused to sign": true, "declined, 3 May": true, "n/a": true, "-": true, "?": true,
		"No, thinks about it": true, "didn't say": true, "didn’t say": true, "pending": true, "never asked": true, "aún no": true, "todavía no": true, "Se negó": true, "rechazó": true, "ninguno": true,
		"in writing": false, "none needed, this is a sample": false, "yes": false, "sí, por escrito": false, "signed; no texts after 20:00": false,
		"by phone, not in writing": false, "Noah's mother signed": false, "sí": false, "firmó": false, "note in the file": false, "y": false,
	} {
		if got := refusal(text); got != want {
			t.Errorf("%q: refusal %v, want %v", text, got, want)
		}
	}
}

// TestSpoolNames: accents are folded, not lost.
func TestSpoolNames(t *testing.T) {
	for name, want := range map[string]string{"María José": "mariajose", "Zoë": "zoe", "O'Hara": "ohara", "李": ""} {
		if got := SpoolName(name); got != want {
			t.Errorf("%s: %q, want %q", name, got, want)
		}
	}
}
