package config

import "testing"

// TestSlipsOfThePen: mistakes a clinician makes, each with what to do about it.
func TestSlipsOfThePen(t *testing.T) {
	badOnce(t, []badCase{
		{
			"a comma in a name inside braces", enrollmentsFile,
			"{release: 2026-10-22, by: J. Marlowe DPM}", "{release: 2026-10-22, by: J. Marlowe, DPM}",
			[]string{`enrollments.yaml:22:47: unknown key "DPM"; a comma inside {...} begins a new entry: put the text before it in quotes`},
		},
		{
			"no space after a colon", "programs/steady.yaml",
			"{do: band, reps: 10, on: every other day, side: affected}", "{do: band, reps: 10, on: every other day, side:affected}",
			[]string{`programs/steady.yaml:21:49: unknown key "side:affected"; put a space after the colon`},
		},
		{
			"a program approved in a time to come", "programs/steady.yaml",
			"on: 2026-10-01", "on: 2096-10-01",
			[]string{"programs/steady.yaml:3:36: warning: the approval is dated ahead, 2096-10-01; write the day on which the program was looked through"},
		},
		{
			"a dispense date with its digits turned", enrollmentsFile,
			"    dispensed: 2026-10-05\n    consent", "    dispensed: 2096-10-05\n    consent",
			[]string{"enrollments.yaml:5:16: warning: dispensed is more than 60 days ahead, so nothing goes out until then; look whether the date is right"},
		},
		{
			"a dispense date of long ago", enrollmentsFile,
			"    dispensed: 2026-10-05\n    consent", "    dispensed: 2006-10-05\n    consent",
			[]string{"enrollments.yaml:5:16: warning: dispensed is more than three years ago; look whether the date is right"},
		},
		{
			"an entry before the patient came", enrollmentsFile,
			"{hold: 2026-10-20,", "{hold: 2026-01-20,",
			[]string{"enrollments.yaml:21:9: warning: the entry is dated before the enrollment begins; look whether its date is right; it counts when it is read"},
		},
	})
}

// TestDischargeAhead: a discharge that is still to come changes no check: the
// program of a patient who gets texts until then needs its approval.
func TestDischargeAhead(t *testing.T) {
	for date, errors := range map[string]int{"2096-01-01": 1, "2026-10-20": 0} {
		files := base()
		files["programs/steady.yaml"] = edit(t, files["programs/steady.yaml"], "approved: {by: J. Marlowe DPM, on: 2026-10-01}\n", "")
		_, problems := loadEdited(t, files, enrollmentsFile,
			"    time: 09:00\n", "    time: 09:00\n    entries: [{discharge: "+date+", by: J. Marlowe DPM}]\n")
		if got := len(problems.Errors()); got != errors {
			t.Errorf("discharged %s: %d errors, want %d: %v", date, got, errors, problems)
		}
	}
}
