package reply

import "stepgate/rules"

// Vocabulary is the words of one language, as data. A phrase is one or more
// words; case, accents and apostrophes make no difference. In the lists that
// are searched for danger words, strong pain, opt-outs and wrong persons, "..." between
// two words stands for up to five other words.
type Vocabulary struct {
	Language string  `yaml:"language"`
	Letters  Letters `yaml:"letters"`

	// SameAs rewrites words before anything else is looked at: short forms,
	// common misspellings, several ways of saying the same.
	SameAs map[string]string `yaml:"same as"`
	// Endings may follow any known word of four letters or more.
	Endings []string `yaml:"endings"`
	// NotMisspelled are words that look like a misspelling of another and
	// are none.
	NotMisspelled []string `yaml:"not misspelled"`

	Numbers  map[string]int `yaml:"numbers"` // number words
	Report   Report         `yaml:"report"`
	Around   Around         `yaml:"around numbers"`
	Negation Negation       `yaml:"negation"`
	Sense    Sense          `yaml:"sense"`
	Keywords Keywords       `yaml:"keywords"`
	Wrong    []string       `yaml:"wrong person"`
	Died     []string       `yaml:"died"` // the patient has died, unless a report stands beside it
	Strong   []Strong       `yaml:"strong pain"`
	RedFlags []Danger       `yaml:"red flags"`
	Echo     []string       `yaml:"echo"` // what a phone writes before the text it quotes

	Signature []string `yaml:"signature"` // beginnings of a last line that a phone adds: SENT FROM my phone

	// Common are the keywords that count whatever the language. They come
	// from a file of their own; only those of a whole text are looked at.
	Common Keywords `yaml:"-"`
}

// Letters are the one-letter codes.
type Letters struct {
	Done  string `yaml:"done"`
	Some  string `yaml:"some"`
	None  string `yaml:"none"`
	Pain  string `yaml:"pain"`
	First string `yaml:"first step"`
	Skin  string `yaml:"skin"`
	// SkinOK is also what people write for "OK", so it counts as a code only
	// where nothing else can be meant; see letter.go.
	SkinOK string `yaml:"skin ok"`
	Wear   string `yaml:"wear"`
	How    string `yaml:"how"`
	Away   string `yaml:"away"`
	Call   string `yaml:"call"`
	Left   string `yaml:"left"` // may be empty, like Right
	Right  string `yaml:"right"`
}

// Report holds the phrases that say something of the patient's day.
type Report struct {
	Done    []string `yaml:"done"`     // all of it, wherever it stands
	Did     []string `yaml:"did"`      // all of it, if nothing unknown follows
	Some    []string `yaml:"some"`     // part of it
	Part    []string `yaml:"part"`     // part of it, unless it measures what follows: SOME pain
	None    []string `yaml:"none"`     // nothing today
	Pain    []string `yaml:"pain"`     // pain, with or without a number
	NoPain  []string `yaml:"no pain"`  // pain 0
	First   []string `yaml:"first"`    // the first steps of the day
	Skin    []string `yaml:"skin"`     // blister, mark, broken skin
	SkinOK  []string `yaml:"skin ok"`  // looked at the skin, nothing found
	Wear    []string `yaml:"wear"`     // wearing the devices, with hours
	NotWorn []string `yaml:"not worn"` // 0 hours
	How     []string `yaml:"how"`      // asking how an exercise is done
	Away    []string `yaml:"away"`     // being away, with days
	Call    []string `yaml:"call"`     // asking to be called
	Left    []string `yaml:"left"`
	Right   []string `yaml:"right"`
}

// Around holds the words beside numbers that tell what a number counts.
type Around struct {
	Scale   []string `yaml:"scale"`       // 4 OUT OF 10
	To      []string `yaml:"to"`          // 4 TO 5
	Or      []string `yaml:"or"`          // 4 OR 5; also carries a denial on: no fever OR chills
	Half    []string `yaml:"half"`        // 3 AND A HALF
	More    []string `yaml:"more"`        // OVER 5
	Minutes []string `yaml:"minutes"`     // 30 MINUTES
	Hours   []string `yaml:"hours"`       // 3 HOURS
	Days    []string `yaml:"days"`        // 5 DAYS
	Weeks   []string `yaml:"weeks"`       // 2 WEEKS
	Times   []string `yaml:"times"`       // 7 PM: never a score
	Counts  []string `yaml:"counts"`      // 3 SETS: no score unless a pain word stands right before
	TimeAt  []string `yaml:"time before"` // AT 5: a time of day
	Before  []string `yaml:"before"`      // EXERCISE 2: a name, not a score
	LeftOut []string `yaml:"left out"`    // MISSED THE 2: no score
	Almost  []string `yaml:"almost"`      // ALMOST 0: counts as 1
}

// Negation holds the words that turn what follows into its opposite.
type Negation struct {
	No        []string `yaml:"no"`          // deny a thing: NO fever
	NoBridge  []string `yaml:"no over"`     // may stand between: no MORE numbness
	Not       []string `yaml:"not"`         // deny anything: NOT numb
	NotBridge []string `yaml:"not over"`    // may stand between: didnt FEEL A pop
	Unable    []string `yaml:"unable"`      // danger phrases with these are never denied: no, CANT walk
	Doubt     []string `yaml:"doubt"`       // nothing in the same clause is plain: not SURE
	Limit     []string `yaml:"limit"`       // right after "no pain" it is not 0: no pain AT REST
	But       []string `yaml:"but"`         // what stood before ends here
	Except    []string `yaml:"except"`      // the same, and after "done" not all was done
	Gone      []string `yaml:"gone"`        // right after a danger sign and at the end of a clause: numbness GONE
	Changed   []string `yaml:"changed"`     // in one sentence with these nothing is denied: no fever UNTIL TODAY
	Future    []string `yaml:"future"`      // not done yet: LATER
	Past      []string `yaml:"yesterday's"` // not today's report
}

// Sense holds words that carry no fact of their own.
type Sense struct {
	Filler []string `yaml:"filler"` // understood, and says nothing
	Ignore []string `yaml:"ignore"` // looks like one of the phrases above and is none
	// Light words are understood beside a score or what was done, and are
	// not understood alone.
	Light  []string `yaml:"light"`
	Thumbs []string `yaml:"thumbs up"`
	Polite []string `yaml:"polite"` // may stand beside a keyword: stop PLEASE
}

// Keywords are the words the carriers act on, and what people write for them.
type Keywords struct {
	Stop        []string `yaml:"stop"`         // the whole text
	StopPhrase  []string `yaml:"stop phrases"` // anywhere
	StopAsk     []string `yaml:"stop asked"`   // a stop phrase that wants less, not none: asked about
	StopUnclear []string `yaml:"stop unclear"` // anywhere else, written exactly: asked about
	NotStop     []string `yaml:"not stop"`     // no opt-out though the word stands there
	Start       []string `yaml:"start"`        // the whole text
	Help        []string `yaml:"help"`         // the whole text
}

// Danger is one red flag: the words for one danger sign.
type Danger struct {
	Name string        `yaml:"name"`
	Tier rules.Urgency `yaml:"tier"`
	// Skin: the sign is one of the skin, so it is a skin complaint too.
	Skin bool `yaml:"skin"`
	// Words are phrases of things and states: "no fever" denies them.
	Words []string `yaml:"words"`
	// Verbs are phrases of what happened: only "not" denies them, since
	// "no fell yesterday" is an answer and a fall.
	Verbs []string `yaml:"verbs"`
	// Not are phrases that hold such a word and are no danger.
	Not []string `yaml:"not"`
}

// Strong is a score for strong pain that is told in words alone.
type Strong struct {
	Pain  int      `yaml:"pain"`  // the score these words stand for
	Words []string `yaml:"words"` // count even where a lower number stands
	// Alone are words that count only where no score was written.
	Alone []string `yaml:"without a number"`
	// Not are phrases that hold such words and are no strong pain.
	Not []string `yaml:"not"`
}
