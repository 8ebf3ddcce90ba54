package config

// The shape of a program file; see shape.go.

type programShape struct {
	At        Place                    `koanf:"@"`
	Program   Value                    `koanf:"program" need:"yes" help:"the file's name without .yaml"`
	Title     Words                    `koanf:"title" need:"yes" help:"what the patient may read as the title"`
	Approved  *approvedShape           `koanf:"approved" help:"the clinician who approved it; without it the spool only"`
	Length    Value                    `koanf:"length" help:"such as 12 weeks; without it the last row goes on"`
	Exercises map[string]exerciseShape `koanf:"exercises" help:"the exercises, each by an id"`
	Weeks     map[string]weekShape     `koanf:"weeks" help:"the dose table: rows by the week they begin"`
	Wear      *wearShape               `koanf:"wear" help:"how the devices are worn in"`
	Pain      painShape                `koanf:"pain" help:"the pain lines, 0 to 10"`
	Advance   advanceShape             `koanf:"advance" help:"what must hold before the next row begins"`
	FirstStep firstStepShape           `koanf:"first step" help:"how often pain at the first steps is asked"`
	Reviews   OneOrMore                `koanf:"review before week" help:"weeks that begin only once a review is recorded"`
	After     *afterShape              `koanf:"maintenance" help:"what follows the end of the table"`
}

type approvedShape struct {
	At Place `koanf:"@"`
	By Value `koanf:"by" need:"yes" help:"the clinician's name"`
	On Value `koanf:"on" need:"yes" help:"a date, such as 2026-10-01"`
}

type exerciseShape struct {
	At     Place            `koanf:"@"`
	Kind   Value            `koanf:"kind" need:"yes" of:"kinds" help:"what kind of movement"`
	Name   Words            `koanf:"name" need:"yes" help:"what the patient reads as its name"`
	Side   Value            `koanf:"side" of:"sides" help:"the side it is done on"`
	Needs  OneOrMore        `koanf:"needs" help:"what is needed for it"`
	How    Words            `koanf:"how" help:"how it is done, for the patient who asks"`
	Easier Words            `koanf:"easier" help:"an easier way"`
	Care   Words            `koanf:"care" help:"a caution"`
	Why    Words            `koanf:"why" help:"what it is good for"`
	Forms  map[string]Words `koanf:"forms" help:"ways of doing it, each by an id"`
}

// weekShape is written as a plain list of doses; see [listShape].
type weekShape struct {
	At    Place       `koanf:"@"`
	Doses []doseShape `koanf:"doses"`
}

// listKey says that the file writes a week as the list of its doses.
func (weekShape) listKey() string { return "doses" }

type doseShape struct {
	At       Place     `koanf:"@"`
	Do       Value     `koanf:"do" need:"yes" help:"the id of the exercise"`
	Sets     Value     `koanf:"sets" help:"how many sets"`
	Reps     Value     `koanf:"reps" need:"yes" help:"how many times in a set, each side"`
	Hold     Value     `koanf:"hold" help:"how long each time is held, such as 10s"`
	Sessions Value     `koanf:"sessions" help:"how many times a day"`
	On       OneOrMore `koanf:"on" help:"every day, every other day, 3 days a week, or [mon, thu]"`
	Side     Value     `koanf:"side" of:"sides" help:"the side, if not the exercise's own"`
	Form     Value     `koanf:"form" help:"one of the exercise's forms"`
	Rest     Value     `koanf:"rest" help:"rest between sets, such as 2 min"`
	Load     Words     `koanf:"load" help:"12RM, or words such as a light band"`
	Tempo    Value     `koanf:"tempo" help:"seconds up, held and down, such as 3/2/3"`
}

type wearShape struct {
	At         Place `koanf:"@"`
	First      Value `koanf:"first" need:"yes" help:"how long they are worn on the first day"`
	Add        Value `koanf:"add" help:"how much longer each time"`
	Every      Value `koanf:"every" help:"days between two growths"`
	Full       Value `koanf:"full" need:"yes" help:"the longest time"`
	DuringHold Value `koanf:"during hold" of:"during hold" help:"what the wear day does during a pain hold"`
}

type painShape struct {
	At        Place `koanf:"@"`
	Steady    Value `koanf:"steady" help:"at or under: all is well"`
	Hold      Value `koanf:"hold" help:"at or over: nothing goes up"`
	StepBack  Value `koanf:"step back" help:"at or over: back to the step before"`
	Pause     Value `koanf:"pause" help:"at or over: no exercises until a release"`
	ClearDays Value `koanf:"clear days" help:"days at or under steady that end a hold"`
}

type advanceShape struct {
	At     Place `koanf:"@"`
	Done   Value `koanf:"done" help:"share of the due days done, such as 70%"`
	OfLast Value `koanf:"of last" help:"over so many days"`
	Scores Value `koanf:"scores" help:"and at least so many pain scores"`
}

// firstStepShape may be written as one word instead; see [wordShape].
type firstStepShape struct {
	At    Place `koanf:"@"`
	Word  Value `koanf:"=" of:"first step"`
	Every Value `koanf:"every" help:"days between two questions"`
	Rise  Value `koanf:"rise" help:"a rise this big counts"`
}

// wordKey is no key of the file: it carries the one word.
func (firstStepShape) wordKey() string { return "=" }

type afterShape struct {
	At       Place       `koanf:"@"`
	For      Value       `koanf:"for" need:"yes" help:"how long, such as 6 months"`
	Messages Value       `koanf:"messages" need:"yes" help:"how many messages, such as 2 a week"`
	Doses    []doseShape `koanf:"doses" need:"yes" help:"the doses, like those of a week"`
}
