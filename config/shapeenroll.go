package config

// The shape of a file of enrollments; see shape.go.

type enrollmentsShape struct {
	At          Place             `koanf:"@"`
	Enrollments []enrollmentShape `koanf:"enrollments" need:"yes" help:"the patients"`
}

type enrollmentShape struct {
	At          Place         `koanf:"@"`
	ID          Value         `koanf:"id" need:"yes" help:"an id for the records"`
	Name        Value         `koanf:"name" need:"yes" help:"the first name to greet by"`
	Proxy       *proxyShape   `koanf:"proxy" help:"a parent or carer who gets the texts"`
	Program     Value         `koanf:"program" need:"yes" help:"the name of a program"`
	Dispensed   Value         `koanf:"dispensed" need:"yes" help:"the date the devices were handed over"`
	Start       Value         `koanf:"start" help:"the date the exercises begin, if another"`
	StartingDay Value         `koanf:"starting day" help:"the program day to begin on, if not 1"`
	Affected    Value         `koanf:"affected" of:"affected" help:"the affected side"`
	Cautions    OneOrMore     `koanf:"cautions" of:"cautions" help:"what asks for care"`
	Usual       *usualShape   `koanf:"usual" help:"the patient's usual pain"`
	UsualWords  OneOrMore     `koanf:"usual words" help:"danger words usual for this patient: they alert, but do not pause"`
	Pain        *ownPainShape `koanf:"pain" help:"the patient's own pain lines"`
	Tailor      []tailorShape `koanf:"tailor" help:"what is changed in the program"`
	Devices     []deviceShape `koanf:"devices" help:"what happened to the devices, by date"`
	Consent     *consentShape `koanf:"consent" need:"yes" help:"who took the consent, when and how"`
	Spool       Value         `koanf:"spool" help:"a name on the spool"`
	SMS         Value         `koanf:"sms" help:"a phone number with + and country code"`
	Email       Value         `koanf:"email" help:"a mail address; beside sms, where messages go once texts do not arrive"`
	Sender      Value         `koanf:"sender" help:"the number of the clinic's that the texts come from"`
	Language    Value         `koanf:"language" of:"languages" help:"the patient's language"`
	Zone        Value         `koanf:"zone" help:"the patient's time zone"`
	Time        Value         `koanf:"time" need:"yes" help:"when the daily message is due, such as \"09:00\""`
	Visits      OneOrMore     `koanf:"review visits" help:"dates of the review visits"`
	Entries     []entryShape  `koanf:"entries" help:"what the clinician did, by date"`
}

type proxyShape struct {
	At       Place `koanf:"@"`
	Name     Value `koanf:"name" need:"yes" help:"first name"`
	Relation Value `koanf:"relation" need:"yes" help:"what they are to the patient, such as mother"`
}

type usualShape struct {
	At        Place `koanf:"@"`
	Pain      Value `koanf:"pain" help:"usual daily pain, 0 to 10"`
	FirstStep Value `koanf:"first step" help:"usual pain at the first steps, 0 to 10"`
}

// ownPainShape has the keys of [painShape] and who set them, when.
type ownPainShape struct {
	At        Place `koanf:"@"`
	Steady    Value `koanf:"steady" help:"at or under: all is well"`
	Hold      Value `koanf:"hold" help:"at or over: nothing goes up"`
	StepBack  Value `koanf:"step back" help:"at or over: back to the step before"`
	Pause     Value `koanf:"pause" help:"at or over: no exercises until a release"`
	ClearDays Value `koanf:"clear days" help:"days at or under steady that end a hold"`
	By        Value `koanf:"by" need:"yes" help:"who set them"`
	On        Value `koanf:"on" need:"yes" help:"and when"`
}

type tailorShape struct {
	At       Place `koanf:"@"`
	LeaveOut Value `koanf:"leave out" help:"an exercise to leave out"`
	Exercise Value `koanf:"exercise" help:"an exercise to change"`
	Form     Value `koanf:"form" help:"do this form of it"`
	Side     Value `koanf:"side" of:"one side" help:"the form on this side only"`
	Sets     Value `koanf:"sets" help:"at most so many sets"`
	By       Value `koanf:"by" need:"yes" help:"who changed it"`
	On       Value `koanf:"on" need:"yes" help:"and when"`
}

type deviceShape struct {
	At        Place `koanf:"@"`
	Dispensed Value `koanf:"dispensed" help:"handed over on this date"`
	Adjusted  Value `koanf:"adjusted" help:"adjusted on this date"`
	Out       Value `koanf:"out" help:"not with the patient from this date"`
	Back      Value `koanf:"back" help:"with the patient again from this date"`
	Remade    Value `koanf:"remade" help:"remade: wear begins again"`
	Second    Value `koanf:"second pair" help:"a second pair: wear begins again"`
}

type consentShape struct {
	At  Place `koanf:"@"`
	On  Value `koanf:"on" need:"yes" help:"the date"`
	How Value `koanf:"how" need:"yes" help:"how it was given"`
	By  Value `koanf:"by" need:"yes" help:"who took it"`

	Covers OneOrMore `koanf:"covers" of:"covers" help:"what it covers beside the messages"`
}

type entryShape struct {
	At          Place `koanf:"@"`
	Hold        Value `koanf:"hold" help:"hold from this date"`
	Release     Value `koanf:"release" help:"ends a pause or a clinician's hold on this date"`
	OfHold      Value `koanf:"of hold" help:"of a release: it was written ahead and ends the hold of this date alone; a pause or another hold that began meanwhile stands"`
	AsBefore    Value `koanf:"as before" of:"yes" help:"of a release: a false alarm; back to where it stood"`
	Cap         Value `koanf:"cap" help:"the highest step, or none"`
	Discharge   Value `koanf:"discharge" help:"the end, on this date"`
	Confirm     Value `koanf:"confirm contact" help:"the contact is the right one"`
	ReleaseWear Value `koanf:"release wear" help:"the devices may go in again"`
	ReviewDone  Value `koanf:"review done" help:"a review took place"`
	Strike      Value `koanf:"strike" help:"the report of this date does not count"`
	Replace     Value `koanf:"replace" help:"the score of this date was another"`
	Report      Value `koanf:"report" help:"a report taken by phone on this date"`
	Said        Value `koanf:"said" help:"of a report: the patient's words, as a text would have them, such as \"D P2\""`
	Score       Value `koanf:"score" help:"of a replace: the score that counts, 0 to 10"`
	On          Value `koanf:"on" help:"the date of a cap, strike or replace"`
	By          Value `koanf:"by" need:"yes" help:"the clinician's name"`
	Why         Value `koanf:"why" help:"why"`
}
