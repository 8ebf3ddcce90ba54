package config

// The shape of a file of rule cases; see shape.go.

type casesShape struct {
	At    Place       `koanf:"@"`
	Cases []caseShape `koanf:"cases"`
}

type caseShape struct {
	At      Place           `koanf:"@"`
	Case    Value           `koanf:"case"`
	Start   Value           `koanf:"start"`
	Replies []replyShape    `koanf:"replies"`
	Expect  []expectedShape `koanf:"expect"`
}

type replyShape struct {
	At    Place     `koanf:"@"`
	Day   Value     `koanf:"day"`
	Days  OneOrMore `koanf:"days"`
	Every Value     `koanf:"every"`
	Time  Value     `koanf:"time"`
	Text  Value     `koanf:"text"`
}

type expectedShape struct {
	At         Place     `koanf:"@"`
	Day        Value     `koanf:"day"`
	Days       OneOrMore `koanf:"days"`
	Every      Value     `koanf:"every"`
	Step       Value     `koanf:"step"`
	ProgramDay Value     `koanf:"program day"`
	WearDay    Value     `koanf:"wear day"`
	Wear       Value     `koanf:"wear"`
	State      Value     `koanf:"state"`
	Why        Value     `koanf:"why"`
	WearWhy    Value     `koanf:"wear why"`
	Due        OneOrMore `koanf:"due"`
	Message    OneOrMore `koanf:"message"`
	Alert      OneOrMore `koanf:"alert"`
}
