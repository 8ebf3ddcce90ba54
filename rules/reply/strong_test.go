package reply

import (
	"testing"

	"stepgate/rules"
)

// Danger told in a patient's own words: what was named and not described,
// self-harm, breathing, and skin under the devices.
func TestDangerInOwnWords(t *testing.T) {
	const (
		clot   = `{"red_flags":[{"name":"blood clot","tier":"urgent"}]}`
		harm   = `"red_flags":[{"name":"thoughts of self-harm","tier":"emergency"}]`
		breath = `{"red_flags":[{"name":"short of breath","tier":"emergency"}]}`
		red    = `"skin":true,"red_flags":[{"name":"spreading redness","tier":"clinic"}]}`
	)
	for _, q := range []rules.Question{rules.AskNothing, rules.AskPain} {
		readAll(t, q, []said{
			{"i think i have a clot in my leg", clot},
			{"blood clot", clot},
			{"dvt", clot},
			{"DVT?", clot},
			{"no blood clot", `{"denied":[{"name":"blood clot","tier":"urgent"}]}`},
			{"I want to die", "{" + harm + "}"},
			{"I hurt so bad I want to die", `{"pain":8,` + harm + `,"unread":true}`},
			{"I want to kill myself", "{" + harm + `,"unread":true}`},
			{"suicidal", "{" + harm + "}"},
			{"end my life", "{" + harm + "}"},
			{"I don't want to live", "{" + harm + "}"},
			{"I don't want to die", `{"denied":[{"name":"thoughts of self-harm","tier":"emergency"}]}`},
			{"breathing hard", breath},
			{"hard to breathe", breath},
			{"trouble breathing", breath},
			{"can't catch my breath", breath},
			{"red under the arch from the insert", `{"skin":true}`},
			{"red band across my foot", `{"skin":true}`},
			{"skin is red", `{"skin":true}`},
			{"my skin is red from the insert", `{"skin":true}`},
			{"my heel is red", "{" + red},
			{"D2 but my heel is red", `{"done":"all","pain":2,` + red},
			{"heel not red", unread},
			{"D 2 red band", `{"done":"all","pain":2,"unread":true}`},
			{"pus", `{"skin":true,"red_flags":[{"name":"open or draining wound","tier":"clinic"}]}`},
			{"toes turned blue", `{"skin":true,"red_flags":[{"name":"color change","tier":"clinic"}]}`},
			{"no wound", `{"denied":[{"name":"open or draining wound","tier":"clinic"}]}`},
		})
	}
}

// The values are common practice, chosen to err on the high side; they stand
// in the vocabulary for the clinician to change.
func TestStrongPainInWords(t *testing.T) {
	const six, eight = `{"pain":6,"unread":true}`, `{"pain":8,"unread":true}`
	for _, q := range []rules.Question{rules.AskNothing, rules.AskPain, rules.AskFirstStep} {
		readAll(t, q, []said{
			{"hurts like hell", eight},
			{"pain is killing me", eight},
			{"unbearable", eight},
			{"excruciating", eight},
			{"worst pain ever", eight},
			{"worst pain", eight},
			{"agony", eight},
			{"awful pain", six},
			{"too much pain to do it", six},
			{"cant do it anymore, pain", `{"done":"none","pain":6,"unread":true}`},
			{"pain a lot", six},
			{"it really hurts", six},
			{"hurts so bad", six},
			{"my heel pain is awful", six},
			{"stop texting me it hurts like hell", `{"pain":8,"unread":true,"ask_stop":true}`},
			// The higher of number and words counts.
			{"awful pain, 3", six},
			{"pain 3 it hurts like hell", eight},
			{"hurts really bad 7", `{"pain":7}`},
			{"agony 9", `{"pain":9}`},
			{"xyzzy like hell 9", `{"pain":9,"unread":true}`},
			{"worst pain 3", `{"pain":3}`},
			// Denied, mild or about something else: no score by words.
			{"not bad", unread},
			{"doesn't hurt a lot", unread},
			{"doesn't really hurt a lot", unread},
			{"not unbearable", unread},
			{"pain not too bad", unread},
			{"pain 3 not too bad", `{"pain":3}`},
			{"pain a lot better 2", `{"pain":2}`},
			{"hurts a lot less", unread},
			{"a little sore", unread},
			{"sore", unread},
		})
	}
	readAll(t, rules.AskPain, []said{
		{"D3 hurts like hell", `{"done":"all","pain":8,"unread":true}`},
		{"D 2 traffic was terrible", `{"done":"all","pain":2,"unread":true}`},
		{"no pain, weather terrible", unread},
	})
}

func TestScoreWordsAreTheClinicians(t *testing.T) {
	v, _ := english(t)
	v.Strong = []Strong{{Pain: 10, Words: []string{"like hell"}}}
	r, err := v.Compile()
	if err != nil {
		t.Fatal(err)
	}
	if got := r.Read("hurts like hell", rules.AskPain); got.Pain == nil || *got.Pain != 10 || !got.Unread {
		t.Errorf("%+v", got)
	}
	if got := r.Read("unbearable", rules.AskPain); got.Pain != nil || !got.Unread {
		t.Errorf("%+v", got)
	}
}

func TestWorstOfDay(t *testing.T) {
	readAll(t, rules.AskPain, []said{
		{"was an 8 yesterday, 2 today", `{"pain":8}`},
		{"7 at work 3 now", `{"pain":7}`},
		{"worst 5 now 2", `{"pain":5}`},
		{"not more than 3", `{"pain":3}`},
	})
	for _, q := range []rules.Question{rules.AskNothing, rules.AskPain} {
		readAll(t, q, []said{
			{"pain was an 8 yesterday, 2 today", `{"pain":8}`},
			{"pain 7 at work 3 now", `{"pain":7}`},
			{"pain worst 5 now 2", `{"pain":5}`},
			{"pain not more than 3", `{"pain":3}`},
			{"pain no more than 3", `{"pain":3}`},
			{"pain at most 3", `{"pain":3}`},
			{"pain under 4", `{"pain":4}`},
			{"pain more than 3", `{"pain":4}`},
			{"pain no more than usual", unread},
		})
	}
	readAll(t, rules.AskNothing, []said{{"was an 8 yesterday, 2 today", unread}, {"7 at work 3 now", unread}})
}

func TestSomebodyDied(t *testing.T) {
	readAll(t, rules.AskPain, []said{
		{"D 2 my mother passed away", `{"done":"all","pain":2,"unread":true}`},
		{"D P3 my dad died", `{"done":"all","pain":3,"unread":true}`},
		{"done, my dog died", `{"done":"all","unread":true}`},
		{"my mother passed away", `{"wrong_person":true}`},
		{"he is dead", `{"wrong_person":true}`},
		{"she passed away, no pain at the end", `{"wrong_person":true}`},
		{"she died at 3", `{"wrong_person":true}`},
		{"skin ok. wrong number", `{"wrong_person":true}`},
	})
}

func TestGone(t *testing.T) {
	const numb = `"red_flags":[{"name":"numbness","tier":"clinic"}],"unread":true}`
	readAll(t, rules.AskPain, []said{
		{"blister gone", unread},
		{"blister is gone", unread},
		{"my blisters are gone", unread},
		{"D 2 blister gone", `{"done":"all","pain":2,"unread":true}`},
		{"no more blister", `{"skin_ok":true}`}, // reads as "no blister"
		{"blister gone bad", `{"skin":true,"unread":true}`},
		{"blister is not gone", `{"skin":true,"unread":true}`},
		{"blister gone but a new one on heel", `{"skin":true,"unread":true}`},
		{"D2 numbness gone", `{"done":"all","pain":2,"denied":[{"name":"numbness","tier":"clinic"}]}`},
		{"numbness is gone", `{"denied":[{"name":"numbness","tier":"clinic"}]}`},
		{"numbness not gone", "{" + numb},
		{"numbness gone up my leg", "{" + numb},
		{"numbness gone?", "{" + numb},
		{"numbness gone but back at night", "{" + numb},
		{"chest pain gone", `{"red_flags":[{"name":"chest pain","tier":"emergency"}],"unread":true}`},
	})
}

func TestExcept(t *testing.T) {
	readAll(t, rules.AskPain, []said{
		{"did them all except the towel one, 3", `{"done":"some","pain":3,"unread":true}`},
		{"all done except it hurts", `{"done":"some","unread":true}`},
		{"done, no pain except stairs 5", `{"done":"all","pain":5}`},
	})
}

// Ordinary words beside a report are understood; alone they are not, and they
// make neither a "no pain" nor a skin check hold.
func TestLightWords(t *testing.T) {
	for _, q := range []rules.Question{rules.AskNothing, rules.AskPain} {
		readAll(t, q, []said{
			{"did it, a bit sore, maybe 3", `{"done":"all","pain":3}`},
			{"done, 3, a bit stiff", `{"done":"all","pain":3}`},
			{"D 3 after walk", `{"done":"all","pain":3}`},
			{"D 3 after walking", `{"done":"all","pain":3}`},
			{"D2 good", `{"done":"all","pain":2}`},
			{"done, tired tonight, 2", `{"done":"all","pain":2}`},
			{"D 2 sore again after work", `{"done":"all","pain":2}`},
			{"D 2 achy in the morning, fine this evening", `{"done":"all","pain":2}`},
			{"D 1 great, easy, little stiff", `{"done":"all","pain":1}`},
			{"bit", unread},
			{"a little", unread},
			{"did a walk", unread},
			{"walked 3", unread},
			{"no pain, a bit stiff", unread},
			{"D no pain, a little", `{"done":"all","unread":true}`},
			{"D2 K a bit stiff", `{"done":"all","pain":2}`},
			{"D 2 a bit numb", `{"done":"all","pain":2,"red_flags":[{"name":"numbness","tier":"clinic"}]}`},
			{"D 2 a bit sore, 7 after a walk", `{"done":"all","pain":7}`},
		})
	}
}
