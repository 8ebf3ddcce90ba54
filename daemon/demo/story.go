package demo

import "stepgate/rules"

// text is one reply of a made-up patient: on a day of the program, counted
// from 1, at a local time of day in minutes.
type text struct {
	at   int
	says string
}

// evening is when most of them answer.
const evening = 18*60 + 30

// patient is one made-up patient with a story.
type patient struct {
	id, name string
	story    string
	replies  func(day int) []text
}

// entry is a clinician's entry written into a patient's file on a date.
type entry struct {
	day  int
	file string
	yaml string
}

// easy answers a day that went well. The scores wander a little, the same
// every time.
func easy(who, day int) []text {
	forms := []string{"D1", "D 2", "done, 1/10", "d2", "D0", "done 2", "D p1"}
	return []text{{evening + 7*who, forms[(day+3*who)%len(forms)]}}
}

func mostly(who int, special map[int][]text) func(int) []text {
	return func(day int) []text {
		if t, ok := special[day]; ok {
			return t
		}
		return easy(who, day)
	}
}

func one(says string) []text { return []text{{evening, says}} }

// patients are the six stories. All of it is invented.
var patients = []patient{
	{"p-01", "Ana", "does everything", mostly(0, map[int][]text{
		4:  {{9*60 + 20, "H"}, {evening, "D1"}},
		20: one("done \U0001F44D no pain"),
	})},
	{"p-02", "Ben", "pain 5 in week two: held, clears, goes on", mostly(1, map[int][]text{
		9:  one("Did it. pain was about 5"),
		10: one("done"),
		11: {{evening, "D3"}},
		12: one("d 2"),
	})},
	{"p-03", "Carla", "pain 7 in week four: a step back", mostly(2, map[int][]text{
		24: one("S P7 right heel"),
		25: one("4"),
		26: one("P3"),
		27: one("2"),
	})},
	{"p-04", "Dev", "a blister in week one", mostly(3, map[int][]text{
		5: {{13 * 60, "B"}, {evening, "D1"}},
		6: one("D1"),
	})},
	{"p-05", "Ella", "answers five days, then falls silent", func(day int) []text {
		if day > 5 {
			return nil
		}
		return easy(4, day)
	}},
	{"p-06", "Finn", "a danger sign in week two, released after a visit", func(day int) []text {
		switch {
		case day < 11:
			return easy(5, day)
		case day == 11:
			return []text{{12*60 + 10, "felt a sudden pop in my calf, cant push off"}}
		case day < 18:
			return nil
		}
		return easy(5, day)
	}},
}

// entries are what the clinician writes meanwhile.
var entries = []entry{
	{day: 18, file: "enrollments/finn.yaml", yaml: "    entries:\n      - {release: 2026-03-19, by: J. Marlowe DPM, why: seen at the clinic}\n"},
}

// start is the dispense date of all six; weeks is how long the demo lasts.
var start = rules.NewDate(2026, 3, 2)

const weeks = 8
