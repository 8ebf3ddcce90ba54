package reply

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"stepgate/rules"
)

const (
	stops  = `{"stop":true}`
	starts = `{"start":true}`
	helps  = `{"help":true}`
)

// Where each keyword must come from. The regulation and the carrier's page are
// as read in November 2026; the trade association's list is second-hand.
var sources = []struct {
	source string
	words  []string
	want   string
}{
	{"47 CFR 64.1200(a)(10)", []string{"stop", "quit", "end", "revoke", "opt out", "cancel", "unsubscribe"}, stops},
	{"CTIA messaging principles", []string{"STOP", "END", "CANCEL", "UNSUBSCRIBE", "QUIT"}, stops},
	{"the carrier's published default list", []string{"STOP", "STOPALL", "UNSUBSCRIBE", "CANCEL", "END", "QUIT", "REVOKE", "OPTOUT"}, stops},
	{"the carrier's published default list", []string{"START", "UNSTOP"}, starts},
	{"the carrier's published default list", []string{"HELP", "INFO"}, helps},
}

// foreign is a small vocabulary without any keyword of the list above.
func foreign(t *testing.T) *Vocabulary {
	v := spanish()
	v.Keywords = Keywords{Stop: []string{"no quiero mensajes"}}
	v.Common, _ = everyLanguage(t)
	return v
}

// Every word counts in every language's reader, whatever was asked and
// whatever stands around it.
func TestKeywordsInEveryLanguage(t *testing.T) {
	_, en := english(t)
	es, err := foreign(t).Compile()
	if err != nil {
		t.Fatal(err)
	}
	_, byLanguage := everyLanguage(t)
	rows := slices.Clone(sources)
	for code, words := range byLanguage { // but for the first, all from memory
		rows = append(rows, sources[0])
		last := &rows[len(rows)-1]
		last.source, last.words = "optout.yaml, "+code, words
	}
	for _, row := range rows {
		for _, w := range row.words {
			for _, text := range []string{
				w, strings.ToUpper(w), w + "!", w + ".", `"` + w + `"`, "“" + w + "”", "> " + w, "*" + w + "*",
				w + " 🛑", "🙏🏽 " + w, w + " 👍", "\n" + w + "\n\n", w + "!!!", "  " + w + "  ",
			} {
				for _, q := range asked {
					for name, r := range map[string]*Reader{"en": en, "es": es} {
						if got := readJSON(r, text, q); got != row.want {
							t.Errorf("%s: %q asked %q in %s is %s, want %s", row.source, text, q, name, got, row.want)
						}
					}
				}
			}
		}
	}
}

// A stop word with politeness, a phone's signature or a slip of the pen is one.
func TestStopWithDecoration(t *testing.T) {
	table := []said{}
	for _, s := range []string{
		"stop please", "please STOP", "STOP thank you", "ok stop", "stop now", "stop already", "No, stop", "yes stop", "stop asap",
		"STOP STOP", "Stpo", "STOPPPP", "S T O P", "S.T.O.P.", "s-t-o-p", "STOPP", "stop-all", "Opt-Out", "opt  out", "cancle", "unsubscibe",
		"STOP\n\nSent from my phone", "Stop\nSent from my Galaxy S22\n", "cancel\n\nGet Outlook for iOS", "ALTO\nEnviado desde mi telefono",
	} {
		table = append(table, said{s, stops})
	}
	readAll(t, rules.AskPain, table)
	readAll(t, rules.AskPain, []said{ // what looks like a signature may be none
		{"STOP\nSent from my phone my chest hurts", `{"red_flags":[{"name":"chest pain","tier":"emergency"}],"unread":true,"ask_stop":true}`},
		{"STOP\nmy chest hurts", `{"red_flags":[{"name":"chest pain","tier":"emergency"}],"ask_stop":true}`},
		{"STOP\nSent from me p7", `{"pain":7,"unread":true,"ask_stop":true}`},
		{"STOP\nAna", `{"unread":true,"ask_stop":true}`},
	})
}

// Wording that a reasonable person would understand as a wish to opt out
// (47 CFR 64.1200(a)(10)); the sentences are our own.
func TestPlainWishToStop(t *testing.T) {
	table := []said{}
	for _, s := range strings.Split(strings.TrimSpace(`
please stop texting me
stop txting me
stop these messages
Stop sending me these!
stop sending me 3 texts a day
please stop the emails
quit texting me
stop spamming me
stop bothering me
can you stop texting me
how do I stop these texts
how do i unsubscribe
I want to unsubscribe from these messages
i want to stop getting texts
I want to opt out
opting out
opt me out please
take me off this list
Take me off your list.
take my name off
get me off this list
remove me
remove me from this list
remove my number
delete my number
lose my number
unsubscribe me
no more texts
no more messages please
no more of these messages
no more reminders
no further texts
do not text me
don’t text me anymore
don't text me again
dont txt me
never text me again
please do not contact me
please don't send me any more messages
I do not want these texts
I don't want these texts anymore
i no longer want texts
i no longer wish to receive messages
I do not wish to receive texts
i'm done with these texts
please cancel all messages
cancel my subscription
I revoke my consent
i withdraw from this program
unenroll me
turn off texts
leave me alone
not interested
cease and desist
done, stop texting me`), "\n") {
		table = append(table, said{s, stops})
	}
	readAll(t, rules.AskPain, table)
}

// A stop word inside a report: the report counts, the patient is asked, and
// nobody is opted out.
func TestStopInReport(t *testing.T) {
	readAll(t, rules.AskPain, []said{
		{"had to stop, pain 7", `{"done":"some","pain":7,"ask_stop":true}`},
		{"had to stop, it hurt", `{"done":"some","unread":true,"ask_stop":true}`},
		{"had to stop at 2 sets", `{"done":"some","ask_stop":true}`},
		{"had to stop, then saw your texts", `{"done":"some","unread":true,"ask_stop":true}`},
		{"quit early, pain 5", `{"done":"some","pain":5,"ask_stop":true}`},
		{"P3 STOP", `{"pain":3,"ask_stop":true}`},
		{"STOP 8", `{"pain":8,"ask_stop":true}`},
		{"STOP D 2", `{"done":"all","pain":2,"ask_stop":true}`},
		{"D stop", `{"done":"all","ask_stop":true}`},
		{"stop, blister", `{"skin":true,"ask_stop":true}`},
		{"D 2, END", `{"done":"all","pain":2,"ask_stop":true}`},
		{"CANCEL pain 5", `{"pain":5,"ask_stop":true}`},
		{"alto, pain 5", `{"pain":5,"ask_stop":true}`},
		{"opt out 8", `{"unread":true,"ask_stop":true}`},
		{"stop texting me it hurts 8", `{"pain":8,"ask_stop":true}`},
		{"can i stop the exercises", `{"unread":true,"ask_stop":true}`},
		{"I don't want these", `{"unread":true,"ask_stop":true}`},
		{"🛑", `{"unread":true,"ask_stop":true}`},
		{"fin", `{"unread":true,"ask_stop":true}`},
		{"Enough.", `{"unread":true,"ask_stop":true}`},
	})
}

// Such words in a report that is about something else, or that deny them.
func TestNoStop(t *testing.T) {
	_, r := english(t)
	for _, s := range strings.Split(strings.TrimSpace(`
end of day pain 3
pain 3 at the end
the end
did it till the end, 2
cancelled my walk, done 2
canceled
cancel my appointment
cancel these exercises
stopped hurting
stopped at 2 sets
start hurts
it starts hurting at 4
the pain doesn't stop 8
please don't stop texting me
I dont want the texts to stop
I don't want to stop
I didn't mean to stop the texts
no texts today?
I got no texts yesterday
no texts for 3 days
why no texts
you dont text me anymore
no problem with the texts
no problems, love the texts
don't want to get hurt
please don't send me to the hospital
I want out of pain
the band took me off balance
removed my inserts 3
cancer
remote
yes
Yes!
YES
star
end it all`), "\n") {
		for _, q := range asked {
			if got := r.Read(s, q); got.Stop || got.Start {
				t.Errorf("%q asked %q: %+v", s, q, got)
			}
		}
	}
}

// START and words like it rejoin; the carrier's YES does not, since people
// also answer questions with it.
func TestStart(t *testing.T) {
	readAll(t, rules.AskPain, []said{
		{"start please", starts}, {"Restart", starts}, {"start texting me again", starts}, {"please start the texts again", starts},
		{"text me again", starts}, {"YES", unread}, {"Yes.", unread}, {"yes please", unread},
		{"help!", helps}, {"help me", helps}, {"ayuda", helps}, {"Help. pain 8", `{"pain":8,"unread":true}`},
	})
}

// A word of the common list that is a report in a language must be seen when
// its vocabulary is written.
func TestCommonKeywordThatIsAReport(t *testing.T) {
	for want, spoil := range map[string]func(*Vocabulary){
		`keywords of every language: "basta" stands under report: some too`:  func(v *Vocabulary) { v.Report.Some = []string{"basta"} },
		`keywords of every language: "info" stands under both stop and help`: func(v *Vocabulary) { v.Common.Stop = append(v.Common.Stop, "info") },
		`keywords of every language: stop: "?" has no words`:                 func(v *Vocabulary) { v.Common.Stop = append(v.Common.Stop, "?") },
		`keywords: stop unclear: "?" has no words`:                           func(v *Vocabulary) { v.Keywords.StopUnclear = []string{"?"} },
		`signature: "--" has no words`:                                       func(v *Vocabulary) { v.Signature = []string{"--"} },
	} {
		v := foreign(t)
		spoil(v)
		if _, err := v.Compile(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want %q", err, want)
		}
	}
}

// No score, however it is written beside a stop word, is opted out unheard.
func TestScoreBesideAStopWord(t *testing.T) {
	_, r := english(t)
	_, byLanguage := everyLanguage(t)
	for _, w := range byLanguage["en"] {
		for n := range 11 {
			for _, form := range []string{"%s, pain %d", "pain %[2]d %[1]s", "%s p%d", "%s. %d/10", "%[2]d %[1]s", "%s %d"} {
				text := fmt.Sprintf(form, w, n)
				got := r.Read(text, rules.AskPain)
				if got.Stop || !got.AskStop || got.Pain == nil && !got.Unread || got.Pain != nil && *got.Pain < n {
					t.Errorf("%q: %+v", text, got)
				}
			}
		}
	}
}
