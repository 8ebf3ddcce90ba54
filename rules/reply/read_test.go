package reply

import (
	"encoding/json"
	"testing"

	"stepgate/rules"
)

// said is one text and what it must be read as, in the JSON of rules.Reading.
type said struct{ text, want string }

// readAll reads every text after the same question.
func readAll(t *testing.T, asked rules.Question, table []said) {
	t.Helper()
	_, r := english(t)
	for _, s := range table {
		if got := readJSON(r, s.text, asked); got != s.want {
			t.Errorf("%q asked %q\n got %s\nwant %s", s.text, asked, got, s.want)
		}
	}
}

// readJSON is what a text was read as, in JSON.
func readJSON(r *Reader, text string, asked rules.Question) string {
	b, err := json.Marshal(r.Read(text, asked))
	if err != nil {
		panic(err)
	}
	return string(b)
}

const unread = `{"unread":true}`

func TestDone(t *testing.T) {
	readAll(t, rules.AskPain, []said{
		{"D", `{"done":"all"}`},
		{"d.", `{"done":"all"}`},
		{"done", `{"done":"all"}`},
		{"DONE!!!", `{"done":"all"}`},
		{"doneeee", `{"done":"all"}`},
		{"doen", `{"done":"all"}`},
		{"donne", `{"done":"all"}`},
		{"dun", `{"done":"all"}`},
		{"D thanks", `{"done":"all"}`},
		{"yes done", `{"done":"all"}`},
		{"All done. No problems.", `{"done":"all"}`},
		{"Finished everything, felt great", `{"done":"all"}`},
		{"I did all my exercises today", `{"done":"all"}`},
		{"did it at 7pm", `{"done":"all"}`},
		{"👍", `{"done":"all"}`},
		{"👍🏽", `{"done":"all"}`},
		{"ok 👍", `{"done":"all"}`},
		{"S", `{"done":"some"}`},
		{"some", `{"done":"some"}`},
		{"half of it", `{"done":"some"}`},
		{"not all done", `{"done":"some"}`},
		{"didn’t finish, 4", `{"done":"some","pain":4}`},
		{"stopped early pain 7", `{"done":"some","pain":7}`},
		{"I did the stretches but skipped the band", `{"done":"some","unread":true}`},
		{"did 2 of 3", `{"done":"some","unread":true}`},
		{"80% done", `{"done":"some","unread":true}`},
		{"N", `{"done":"none"}`},
		{"n.", `{"done":"none"}`},
		{"not done", `{"done":"none"}`},
		{"not done 👍", `{"done":"none"}`},
		{"didn't do it", `{"done":"none"}`},
		{"Skipped today", `{"done":"none"}`},
		{"Not today, tired", `{"done":"none"}`},
		{"havent done them yet", `{"done":"none","unread":true}`},
		{"done yesterday, not today", `{"done":"none","unread":true}`},
	})
}

// A text that doesn't say the exercises are done must not be read as done.
func TestNotDone(t *testing.T) {
	readAll(t, rules.AskPain, []said{
		{"ok", unread},
		{"Okay", unread},
		{"thanks", unread},
		{"will do 👍", unread},
		{"will do later", unread},
		{"did it yesterday", unread},
		{"did a walk", unread},
		{"done?", unread},
		{"gone", unread},
		{"some pain", unread},
		{"it did hurt", unread},
		{"👎", unread},
		{"😂", unread},
		{"", unread},
		{" \n\t", unread},
		{"??", unread},
		{"Good morning", unread},
	})
}

func TestScores(t *testing.T) {
	readAll(t, rules.AskPain, []said{
		{"4", `{"pain":4}`},
		{"four", `{"pain":4}`},
		{"a five", `{"pain":5}`},
		{"0", `{"pain":0}`},
		{"10!!!!", `{"pain":10}`},
		{"P３", `{"pain":3}`},
		{"5️⃣", `{"pain":5}`},
		{"🔟", `{"pain":10}`},
		{"p10/10", `{"pain":10}`},
		{"4 out of 10", `{"pain":4}`},
		{"six out of ten", `{"pain":6}`},
		{"4 on a scale of 1-10", `{"pain":4}`},
		{"pain on a scale of 1 to 10 is 4", `{"pain":4}`},
		{"pain 0-10: 4", `{"pain":4}`},
		{"pain was about 4", `{"pain":4}`},
		{"“pain’s 4”", `{"pain":4}`},
		{"my pian is 6 today", `{"pain":6}`},
		{"it hurts like hell 9", `{"pain":9}`},
		{"really sore today, like an 8", `{"pain":8}`},
		{"worse, 6", `{"pain":6}`},
		{"I'd say 6", `{"pain":6}`},
		{"6ish", `{"pain":6}`},
		{"i think 3", `{"pain":3}`},
		{"5 pain", `{"pain":5}`},
		{"pain at 5", `{"pain":5}`},
		{"my pain after the walk reached 8", `{"pain":8,"unread":true}`},
		{"No, pain 6", `{"pain":6}`},
		{"zero pain", `{"pain":0}`},
		{"no pain", `{"pain":0}`},
		{"nopain", `{"pain":0}`},
		{"no pain thank God", `{"pain":0}`},
		{"pain free", `{"pain":0}`},
		{"doesn't hurt", `{"pain":0}`},
		{"p3 l", `{"pain":3,"side":"left"}`},
		{"R 5", `{"pain":5,"side":"right"}`},
		{"Pain 6/10 left heel", `{"pain":6,"side":"left"}`},
	})
}

// Of two readings the one with more pain counts.
func TestWorstScoreCounts(t *testing.T) {
	readAll(t, rules.AskPain, []said{
		{"p 4-5", `{"pain":5}`},
		{"p 4 - 5", `{"pain":5}`},
		{"between 4 and 6", `{"pain":6}`},
		{"4 or 5", `{"pain":5}`},
		{"pain 2 yesterday but 6 today", `{"pain":6}`},
		{"pain yesterday 7, today 2", `{"pain":7}`},
		{"pain went from 7 to 2", `{"pain":7}`},
		{"pain 7 in morning 3 now", `{"pain":7}`},
		{"no pain in left, 5 in right", `{"pain":5,"side":"right"}`},
		{"pain 4 left 6 right", `{"pain":6,"side":"right"}`},
		{"left 7, right 2", `{"pain":7,"side":"left"}`},
		{"3 but 8 when climbing stairs", `{"pain":8}`},
		{"2 at rest, 7 on stairs", `{"pain":7}`},
		{"P3 P5", `{"pain":5}`},
		{"p 3.5", `{"pain":4}`},
		{"3½", `{"pain":4}`},
		{"3 1/2", `{"pain":4}`},
		{"3 and a half", `{"pain":4}`},
		{"9.5", `{"pain":10}`},
		{"P0.2", `{"pain":1}`},
		{"p 3,5", `{"pain":5}`},
		{"p.5", `{"pain":5}`},
		{"p 5+", `{"pain":6}`},
		{"more than 5", `{"pain":6}`},
		{"p 1 0", `{"pain":10}`},
		{"P1o", `{"pain":10}`},
		{"pain 3 at 8", `{"pain":8}`},
		{"P-8", `{"pain":8}`},
	})
}

// What is no score from 0 to 10 is asked about, never bent into one.
func TestNoScore(t *testing.T) {
	readAll(t, rules.AskPain, []said{
		{"P 45", unread},
		{"p45", unread},
		{"P 11", unread},
		{"11", unread},
		{"p100", unread},
		{"pain 10.5", unread},
		{"P -3", unread},
		{"-3", unread},
		{"pain twenty five", unread},
		{"pain one hundred", unread},
		{"pain 4/5", unread},
		{"p 3.5.6", unread},
		{"pl0", unread},
		{"l0", unread},
		{"3e5", unread},
		{"<3", unread},
		{"0-10", unread},
		{"call me at 5", `{"call":true}`},
		{"ring me at 3", `{"call":true}`},
		{"call me at 212-555-0147", `{"call":true}`},
		{"212 555 0147", unread},
		{"5pm", unread},
		{"7:30", unread},
		{"10/12", unread},
		{"10/12/2026", unread},
		{"done at 8 pain 3", `{"done":"all","pain":3}`},
		{"7 a.m. pain 3", `{"pain":3}`},
		{"Oct 5 pain 3", `{"pain":3}`},
		{"week 3 pain 2", `{"pain":2}`},
		{"exercise 2 hurt, 6", `{"pain":6}`},
		{"3x10 done pain 2", `{"done":"all","pain":2}`},
		{"pain 3 after 3 sets of 10", `{"pain":3}`},
		{"pain 3 for 2 hours", `{"pain":3}`},
		{"my daughter is 7", unread},
		{"I have 2 dogs", unread},
		{"pain 4 morning 9 pm", `{"pain":4,"unread":true}`},
	})
}

// A complaint without a number, or a "no pain" that is taken back, is asked
// about: it is not a 0.
func TestPainWithoutNumber(t *testing.T) {
	readAll(t, rules.AskPain, []said{
		{"it hurt", unread},
		{"done but it hurt", `{"done":"all","unread":true}`},
		{"P", unread},
		{"my heel is killing me", `{"pain":8,"unread":true}`},
		{"not much pain", unread},
		{"a little sore", unread},
		{"no pain at rest", unread},
		{"no pain but it burns", unread},
		{"no pain relief", unread},
		{"no pain meds today", unread},
		{"no more pain than usual", unread},
		{"not sure, no pain maybe", unread},
		{"no pain yesterday", unread},
		{"doesn't hurt much", unread},
		{"pain went away", unread},
		{"pain 2 yesterday", `{"pain":2,"unread":true}`},
	})
}

func TestQuestionAsked(t *testing.T) {
	readAll(t, rules.AskNothing, []said{
		{"4", unread},
		{"d3", `{"done":"all","pain":3}`},
		{"done 4", `{"done":"all","pain":4}`},
		{"done, 3/10", `{"done":"all","pain":3}`},
		{"3/10", `{"pain":3}`},
		{"P4", `{"pain":4}`},
		{"5 left", `{"pain":5,"side":"left"}`},
		{"no pain", `{"pain":0}`},
		{"a 5", `{"away":5}`},
	})
	readAll(t, rules.AskPainNow, []said{{"2", `{"pain":2}`}, {"still 5", `{"pain":5}`}})
	readAll(t, rules.AskFirstStep, []said{
		{"4", `{"first_step":4}`},
		{"d3", `{"done":"all","first_step":3}`},
		{"4/10", `{"first_step":4}`},
		{"3 or 4", `{"first_step":4}`},
		{"F 4", `{"first_step":4}`},
		{"first steps 5", `{"first_step":5}`},
		{"first step pain 4, pain 2", `{"pain":2,"first_step":4}`},
		{"F3 P5", `{"pain":5,"first_step":3}`},
		{"P5", `{"pain":5}`},
		{"pain 5", `{"pain":5}`},
		{"no pain", `{"first_step":0}`},
		{"f 11", unread},
	})
}

func TestSeveralFacts(t *testing.T) {
	readAll(t, rules.AskPain, []said{
		{"D P3", `{"done":"all","pain":3}`},
		{"dp3", `{"done":"all","pain":3}`},
		{"D,P3", `{"done":"all","pain":3}`},
		{"d/p3", `{"done":"all","pain":3}`},
		{"D & P4", `{"done":"all","pain":4}`},
		{"d.p3", `{"done":"all","pain":3}`},
		{"done n pain 3", `{"done":"all","pain":3}`},
		{"done with some discomfort 3", `{"done":"all","pain":3}`},
		{"N because of pain 7", `{"done":"none","pain":7}`},
		{"d p3 w4 f2 b c", `{"done":"all","pain":3,"first_step":2,"skin":true,"wear_hours":4,"call":true}`},
		{"W5 P2 blister on heel", `{"pain":2,"skin":true,"wear_hours":5}`},
		{"p7 h2 a3", `{"pain":7,"how":2,"away":3}`},
		{"done 2/10 pain, wore 4 hrs", `{"done":"all","pain":2,"wear_hours":4}`},
		{"D. Pain was a 2. Wore 5 hours", `{"done":"all","pain":2,"wear_hours":5}`},
		{"I wore the inserts for 6 hours, no pain", `{"pain":0,"wear_hours":6}`},
		{"C P7", `{"pain":7,"call":true}`},
	})
}
