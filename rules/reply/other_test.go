package reply

import (
	"testing"

	"stepgate/rules"
)

func TestSkinWearHowAwayCall(t *testing.T) {
	readAll(t, rules.AskPain, []said{
		{"B", `{"skin":true}`},
		{"blister", `{"skin":true}`},
		{"blistr", `{"skin":true}`},
		{"blisters", `{"skin":true}`},
		{"red spots", `{"skin":true}`},
		{"red marks", `{"skin":true}`},
		{"hot spots", `{"skin":true}`},
		{"red spot on my arch", `{"skin":true}`},
		{"my blister popped", `{"skin":true,"unread":true}`},
		{"no blister but red mark", `{"skin":true}`},
		{"no blister, 2", `{"pain":2,"skin_ok":true}`},
		{"no better, blister", `{"skin":true,"unread":true}`},
		{"W 3", `{"wear_hours":3}`},
		{"w3.5", `{"wear_hours":3.5}`},
		{"w5h", `{"wear_hours":5}`},
		{"wore 3 hours", `{"wear_hours":3}`},
		{"wore them for an hour", `{"wear_hours":1}`},
		{"wore 30 minutes", `{"wear_hours":0.5}`},
		{"wore 3 and a half hours", `{"wear_hours":3.5}`},
		{"wore 2-3 hours", `{"wear_hours":2}`},
		{"W 0", `{"wear_hours":0}`},
		{"didnt wear them", `{"wear_hours":0}`},
		{"W 30", unread},
		{"wore them all day", unread},
		{"H", `{"how":0}`},
		{"h2", `{"how":2}`},
		{"H 2", `{"how":2}`},
		{"how", `{"how":0}`},
		{"how do i do exercise 2", `{"how":2}`},
		{"W 3 h 2", `{"wear_hours":3,"how":2}`},
		{"how long do I hold", unread},
		{"A 5", `{"away":5}`},
		{"A5", `{"away":5}`},
		{"A 30", `{"away":30}`},
		{"a 5", `{"away":5,"unread":true}`}, // or a five
		{"away 5 days", `{"away":5}`},
		{"5 days away", `{"away":5}`},
		{"away for 2 weeks", `{"away":14}`},
		{"A0", unread},
		{"away until friday", unread},
		{"C", `{"call":true}`},
		{"please call me", `{"call":true}`},
		{"I will call you", unread},
		{"don't call me", unread},
	})
}

func TestSkinCheck(t *testing.T) {
	const fine = `{"skin_ok":true}`
	redness := `,"denied":[{"name":"spreading redness","tier":"clinic"}]}`
	readAll(t, rules.AskPain, []said{
		{"K", fine},
		{"k.", fine},
		{"skin ok", fine},
		{"My skin is okay", fine},
		{"Skin looks fine today", fine},
		{"skin was all fine", fine},
		{"no marks", fine},
		{"No blisters.", fine},
		{"no blisters or marks on my feet", fine},
		{"no blister or red mark", fine},
		{"no redness", `{"skin_ok":true` + redness},
		{"D 2 K", `{"done":"all","pain":2,"skin_ok":true}`},
		{"d2k", `{"done":"all","pain":2,"skin_ok":true}`},
		{"2 k", `{"pain":2,"skin_ok":true}`},
		{"K D P3", `{"done":"all","pain":3,"skin_ok":true}`},
		{"D, K, 2", `{"done":"all","pain":2,"skin_ok":true}`},
		{"done, no pain, K", `{"done":"all","pain":0,"skin_ok":true}`},
		{"done k", `{"done":"all","skin_ok":true}`},
		{"W 3 K thanks", `{"skin_ok":true,"wear_hours":3}`},
		{"F2 K", `{"first_step":2,"skin_ok":true}`},
		{"A 5 K", `{"skin_ok":true,"away":5}`},
	})
}

// With a sore or mark in the same text, or anything not understood, the skin
// is not fine.
func TestNoSkinCheck(t *testing.T) {
	readAll(t, rules.AskPain, []said{
		{"B K", `{"skin":true}`},
		{"K, B", `{"skin":true}`},
		{"D 2 B K", `{"done":"all","pain":2,"skin":true}`},
		{"no marks but a blister", `{"skin":true}`},
		{"skin ok, red mark on left", `{"side":"left","skin":true}`},
		{"no marks on the right foot", `{"side":"right","unread":true}`},
		{"left foot no blisters, right foot fine", `{"unread":true}`},
		{"skin not ok", `{"skin":true}`},
		{"my skin isn't fine", `{"skin":true}`},
		{"skin is red", `{"skin":true}`},
		{"sores", `{"skin":true}`},
		{"skin", unread},
		{"skin ok?", unread},
		{"not sure the skin is ok", unread},
		{"no blisters yesterday", unread},
		{"no new blisters", unread},
		{"skin ok but a bit pink", unread},
		{"K but a bit pink", unread},
		{"D 2 K went to the pool", `{"done":"all","pain":2,"unread":true}`},
		{"skin fine but my toes are numb", `{"red_flags":[{"name":"numbness","tier":"clinic"}]}`},
	})
	readAll(t, rules.AskPain, []said{ // an OK is no skin check
		{"ok", unread},
		{"kk", unread},
		{"k thanks", unread},
		{"K, will do", unread},
		{"k great", unread},
		{"thanks k", unread},
		{"k, done", `{"done":"all"}`},
		{"K 👍", `{"done":"all"}`},
		{"ran 5k", unread},
		{"5k", unread},
		{"did 3 k", unread},
		{"vitamin K", unread},
		{"K-tape helped", unread},
	})
}

func TestEcho(t *testing.T) {
	readAll(t, rules.AskPain, []said{
		{`Liked "D P3"`, `{"echo":true}`},
		{"Loved “Today, Mon Oct 5: Wall calf stretch. Pain 0-10?”", `{"echo":true}`},
		{"Laughed at “How is it now?”", `{"echo":true}`},
		{"Emphasized “Reply STOP to end”", `{"echo":true}`},
		{`Reacted 👍 to "chest pain? call 911"`, `{"echo":true}`},
		{"👍 to “Today”", `{"echo":true}`},
		{`Liked "x" pain 8`, `{"pain":8}`},
		{"Loved it! 3", `{"pain":3,"unread":true}`},
	})
}

func TestWrongPerson(t *testing.T) {
	var table []said
	for _, w := range []string{
		"wrong number", "Sorry wrong number", "who is this", "whos this?", "who are you", "who r u",
		"you have the wrong person", "she passed away", "he died", "not my number",
		"this is not her number", "she no longer has this number", "not me",
	} {
		table = append(table, said{w, `{"wrong_person":true}`})
	}
	readAll(t, rules.AskPain, table)
}

// The signs are those that public health-service pages list for foot and
// ankle problems (blood, fainting, color change: from memory); the words are
// the vocabulary's own.
func TestRedFlags(t *testing.T) {
	_, r := english(t)
	for name, texts := range map[string][]string{
		"chest pain": {"chest pain", "CHEST PAIN!!", "chest pian", "my chest hurts", "pain in my chest",
			"chest feels tight", "not sure if chest pain", "chest pain? no"},
		"short of breath": {"breathless", "breathles", "short of breath", "can't catch my breath", "cant breathe",
			"No cant breathe"},
		"coughing blood": {"coughing up blood", "coughed some blood this morning"},
		"sudden pop": {"felt a pop", "popped", "heard a snap in my arch", "something popped in my calf",
			"blister, then my calf popped"},
		"cannot bear weight":  {"can't walk", "cannot put any weight on it", "cannot push off", "no I cant walk", "barely walk"},
		"swollen or hot calf": {"swolen calf", "calf is swollen and hot", "right calf warm and red", "my calf: hot", "no fever, calf swollen"},
		"bad fall":            {"I fell", "fallen on stairs", "No fell yesterday", "had a fall", "bad fall", "fell asleep then fell"},
		"numbness":            {"numb", "toes are numb", "numbbbb", "no better, numb", "cant feel my toes", "not really numb", "no feeling in foot", "not only numb", "no, numb", "it's not ok numb toes"},
		"tingling":            {"tingling", "toes tingle", "pins and needles"},
		"spreading redness":   {"redness is spreading", "red streaks"},
		"open or draining wound": {"open wound", "pus", "wound is draining", "theres discharge",
			"sore is oozing"},
		"color change": {"toes turned blue", "big toe black", "white toes", "foot is discolored"},
		"fever":        {"fever", "i am feverish", "fever? no", "no fewer than 2 days of fever"},
		"swelling":     {"swolen", "ankle is swollen"},
	} {
		for _, s := range texts {
			got := r.Read(s, rules.AskPain)
			if !named(got.Flags, name) || named(got.Denied, name) {
				t.Errorf("%q: %s not flagged: %+v", s, name, got)
			}
		}
	}
}

func TestDenied(t *testing.T) {
	_, r := english(t)
	for name, texts := range map[string][]string{
		"chest pain":          {"no chest pain", "P2, no chest pain", "never had chest pain"},
		"numbness":            {"not numb anymore", "without numbness", "I dont have any numbness", "no longer numb", "no chest pain or numbness", "no pain or numbness"},
		"fever":               {"no fever", "didn't have a fever", "no fever but hot foot"},
		"bad fall":            {"didn't fall", "havent fallen"},
		"swollen or hot calf": {"calf is not swollen", "no swelling in calf"},
		"color change":        {"my toes are not blue"},
		"tingling":            {"no tingling"},
	} {
		for _, s := range texts {
			got := r.Read(s, rules.AskPain)
			if named(got.Flags, name) || !named(got.Denied, name) {
				t.Errorf("%q: %s not denied: %+v", s, name, got)
			}
		}
	}
}

func TestNoRedFlag(t *testing.T) {
	_, r := english(t)
	for _, s := range []string{
		"popcorn", "feverfew tea", "blackboard", "the fall program is good", "fell asleep", "this fall",
		"fallen arches hurt 3", "my blister popped", "blue band was hard", "my black shoes hurt 3",
		"fewer reps today", "would that be fine", "collapsed arch", "done, 3/10", "discharged from hospital",
		"stretched my chest", "number 4", "never better", "hot bath helped my leg",
	} {
		if got := r.Read(s, rules.AskPain); len(got.Flags)+len(got.Denied) > 0 {
			t.Errorf("%q: %+v", s, got)
		}
	}
}

func TestRedFlagWithFacts(t *testing.T) {
	readAll(t, rules.AskPain, []said{
		{"D P6 and I fell", `{"done":"all","pain":6,"red_flags":[{"name":"bad fall","tier":"urgent"}]}`},
		{"I have a fever so not today", `{"done":"none","red_flags":[{"name":"fever","tier":"clinic"}]}`},
		{"feeling tingly and 4", `{"pain":4,"red_flags":[{"name":"tingling","tier":"clinic"}]}`},
		{"P2, no chest pain", `{"pain":2,"denied":[{"name":"chest pain","tier":"emergency"}]}`},
		{"no fever but numb", `{"red_flags":[{"name":"numbness","tier":"clinic"}],"denied":[{"name":"fever","tier":"clinic"}]}`},
		{"stop i have chest pain", `{"red_flags":[{"name":"chest pain","tier":"emergency"}],"ask_stop":true}`},
	})
}

func named(flags []rules.RedFlag, name string) bool {
	for _, f := range flags {
		if f.Name == name {
			return true
		}
	}
	return false
}
