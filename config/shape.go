package config

// The shape of the three kinds of file. The tags are the keys a file may
// hold, and no others are accepted; placeKey is filled by the walker.

type settingsShape struct {
	At      Place         `koanf:"@"`
	Clinic  clinicShape   `koanf:"clinic"`
	Texting textingShape  `koanf:"texting"`
	Grace   Value         `koanf:"grace"`
	Data    Value         `koanf:"data"`
	Alerts  *contactShape `koanf:"alerts"`
	Spool   spoolShape    `koanf:"spool"`
	SMS     *smsShape     `koanf:"sms"`
	Email   *emailShape   `koanf:"email"`
}

type clinicShape struct {
	At         Place `koanf:"@"`
	Name       Value `koanf:"name"`
	Phone      Value `koanf:"phone"`
	Hours      Value `koanf:"hours"`
	AfterHours Value `koanf:"after hours"`
	Emergency  Value `koanf:"emergency"`
	Zone       Value `koanf:"zone"`
	Language   Value `koanf:"language"`
}

type textingShape struct {
	At   Place `koanf:"@"`
	From Value `koanf:"from"`
	To   Value `koanf:"to"`
}

type contactShape struct {
	At    Place `koanf:"@"`
	Spool Value `koanf:"spool"`
	SMS   Value `koanf:"sms"`
	Email Value `koanf:"email"`
}

type spoolShape struct {
	At  Place `koanf:"@"`
	Dir Value `koanf:"dir"`
}

type smsShape struct {
	At      Place     `koanf:"@"`
	Account Value     `koanf:"account"`
	Token   SecretRef `koanf:"token"`
	From    Value     `koanf:"from"`
	API     Value     `koanf:"api"`
	Listen  Value     `koanf:"listen"`
	Public  Value     `koanf:"public"`
}

type emailShape struct {
	At       Place     `koanf:"@"`
	Host     Value     `koanf:"host"`
	Port     Value     `koanf:"port"`
	From     Value     `koanf:"from"`
	User     Value     `koanf:"user"`
	Password SecretRef `koanf:"password"`
	TLS      Value     `koanf:"tls"`
}

type programShape struct {
	At        Place                    `koanf:"@"`
	Program   Value                    `koanf:"program"`
	Title     Words                    `koanf:"title"`
	Approved  *approvedShape           `koanf:"approved"`
	Length    Value                    `koanf:"length"`
	Exercises map[string]exerciseShape `koanf:"exercises"`
	Weeks     map[string]weekShape     `koanf:"weeks"`
	Wear      *wearShape               `koanf:"wear"`
	Pain      painShape                `koanf:"pain"`
	Advance   advanceShape             `koanf:"advance"`
}

type approvedShape struct {
	At Place `koanf:"@"`
	By Value `koanf:"by"`
	On Value `koanf:"on"`
}

type exerciseShape struct {
	At     Place     `koanf:"@"`
	Kind   Value     `koanf:"kind"`
	Name   Words     `koanf:"name"`
	Side   Value     `koanf:"side"`
	Needs  OneOrMore `koanf:"needs"`
	How    Words     `koanf:"how"`
	Easier Words     `koanf:"easier"`
	Care   Words     `koanf:"care"`
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
	Do       Value     `koanf:"do"`
	Sets     Value     `koanf:"sets"`
	Reps     Value     `koanf:"reps"`
	Hold     Value     `koanf:"hold"`
	Sessions Value     `koanf:"sessions"`
	On       OneOrMore `koanf:"on"`
	Side     Value     `koanf:"side"`
}

type wearShape struct {
	At    Place `koanf:"@"`
	First Value `koanf:"first"`
	Add   Value `koanf:"add"`
	Every Value `koanf:"every"`
	Full  Value `koanf:"full"`
}

type painShape struct {
	At        Place `koanf:"@"`
	Steady    Value `koanf:"steady"`
	Hold      Value `koanf:"hold"`
	StepBack  Value `koanf:"step back"`
	Pause     Value `koanf:"pause"`
	ClearDays Value `koanf:"clear days"`
}

type advanceShape struct {
	At     Place `koanf:"@"`
	Done   Value `koanf:"done"`
	OfLast Value `koanf:"of last"`
	Scores Value `koanf:"scores"`
}

type enrollmentsShape struct {
	At          Place             `koanf:"@"`
	Enrollments []enrollmentShape `koanf:"enrollments"`
}

type enrollmentShape struct {
	At        Place         `koanf:"@"`
	ID        Value         `koanf:"id"`
	Name      Value         `koanf:"name"`
	Program   Value         `koanf:"program"`
	Dispensed Value         `koanf:"dispensed"`
	Start     Value         `koanf:"start"`
	Affected  Value         `koanf:"affected"`
	Consent   *consentShape `koanf:"consent"`
	Spool     Value         `koanf:"spool"`
	SMS       Value         `koanf:"sms"`
	Email     Value         `koanf:"email"`
	Language  Value         `koanf:"language"`
	Zone      Value         `koanf:"zone"`
	Time      Value         `koanf:"time"`
	Entries   []entryShape  `koanf:"entries"`
}

type consentShape struct {
	At  Place `koanf:"@"`
	On  Value `koanf:"on"`
	How Value `koanf:"how"`
	By  Value `koanf:"by"`
}

type entryShape struct {
	At        Place `koanf:"@"`
	Hold      Value `koanf:"hold"`
	Release   Value `koanf:"release"`
	Cap       Value `koanf:"cap"`
	Discharge Value `koanf:"discharge"`
	Confirm   Value `koanf:"confirm contact"`
	On        Value `koanf:"on"`
	By        Value `koanf:"by"`
	Why       Value `koanf:"why"`
}
