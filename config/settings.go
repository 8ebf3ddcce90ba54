package config

import (
	"path/filepath"
	"slices"
	"time"

	"stepgate/rules"
)

// languages are those the messages ship in.
func languages() []string { return []string{"en", "es"} }

// settings turns stepgate.yaml into the clinic.
func (l *loader) settings(s *settingsShape) {
	l.clinicFacts(s)
	l.textingHours(s.Texting)
	if d, ok := l.span(s.Grace, time.Minute, 2*time.Hour, "10m"); ok {
		l.clinic.Grace = d
	}
	l.folders(s)
	if s.SMS != nil {
		l.sms(s.SMS)
	}
	if s.Email != nil {
		l.email(s.Email)
	}
	l.alerts(s)
	l.digest(s.Digest)
	if s.Web != nil {
		l.web(s.Web)
	}
	l.machine(s)
	if s.Admin != nil {
		l.clinic.Admin = l.staff(*s.Admin, "admin", "the admin is told by ")
	}
}

// clinicFacts reads what the texts say about the clinic. Nobody reads answers
// at once, so a clinic must say whom to call instead, day and night.
func (l *loader) clinicFacts(s *settingsShape) {
	c, p := l.clinic, s.Clinic.At
	l.zone, l.language = time.UTC, s.Clinic.Language.Text
	if !s.At.has("clinic") {
		l.wrong(s.At.Pos, "clinic is missing", "write clinic: with name, phone, hours, after hours, emergency and zone below it")
		return
	}
	if l.need(p, "name", "write the clinic's name as the texts should say it") {
		c.Name, _ = l.line(s.Clinic.Name, 60)
	}
	if l.need(p, "phone", "write the number that patients call in opening hours") {
		c.Phone, _ = l.readNumber(s.Clinic.Phone)
	}
	if l.need(p, "hours", "write the opening hours, like Mon-Fri 8:30-17:00") {
		c.Hours = l.openingHours(s.Clinic.Hours)
	}
	if l.need(p, "after hours", "write the number that patients call when the clinic is closed") {
		c.AfterHours, _ = l.readNumber(s.Clinic.AfterHours)
	}
	if l.need(p, "emergency", "write the emergency number of the place, such as 911") {
		c.Emergency = l.emergencyNumber(s.Clinic.Emergency)
	}
	if l.need(p, "zone", "write the clinic's time zone, like America/New_York") {
		if z, ok := l.zones.read(&l.notes, s.Clinic.Zone); ok {
			c.Zone, l.zone = z, z
		}
	}
	if lang, ok := l.choice(s.Clinic.Language, languages()...); ok {
		c.Language, l.language = lang, lang
	}
}

// textingHours reads when proactive messages may go out.
func (l *loader) textingHours(s textingShape) {
	from, ok1 := l.clock(s.From)
	to, ok2 := l.clock(s.To)
	if !ok1 || !ok2 {
		return
	}
	at := s.From.At
	if !s.From.written() {
		at = s.To.At
	}
	if from >= to {
		l.wrong(at, "texting begins at "+from.String()+" and ends at "+to.String(), "write a from that is earlier than the to")
		return
	}
	// 47 CFR 64.1200(c)(1), taken over as the usual bounds.
	const early, late = 8 * 60, 21 * 60
	if from < early || to > late {
		l.warn(at, "texting hours reach outside 08:00 to 21:00", "keep inside them unless your patients agreed to more")
	}
	l.clinic.Texting = Hours{from, to}
	l.textingKnown = true
}

// folders reads where the journal and the spool are kept.
func (l *loader) folders(s *settingsShape) {
	l.clinic.Data = l.folder(s.Data)
	l.clinic.Spool.Dir = l.folder(s.Spool.Dir)
	if !s.Spool.Dir.given() && l.clinic.Data != "" {
		l.clinic.Spool.Dir = filepath.Join(l.clinic.Data, "spool")
	}
	if l.clinic.Data != "" && l.clinic.Data == l.clinic.Spool.Dir {
		l.wrong(s.Spool.Dir.At, "data and spool are the same folder", "give the spool a folder of its own, like data/spool")
	}
}

// folder reads a folder's path, which counts from the clinic's folder. The
// places where the clinic's own files lie are not for the daemon to write in.
func (l *loader) folder(v Value) string {
	path, ok := l.line(v, 1000)
	if !ok {
		return ""
	}
	path = l.abs(path)
	taken := []string{l.clinic.Dir, l.abs(programFolder), l.abs(enrollmentFolder)}
	if slices.Contains(taken, path) {
		l.wrong(v.At, v.Key+" is a folder of the clinic's own files", "name another one, like data")
		return ""
	}
	return path
}

// abs makes a path that counts from the clinic's folder absolute.
func (l *loader) abs(path string) string {
	if filepath.IsAbs(path) {
		return filepath.Clean(path)
	}
	return filepath.Join(l.clinic.Dir, path)
}

// useSpool stands in for a channel that is not set up.
const useSpool = "use spool"

// configured notes a channel that is used and not set up. other is what to do
// instead of setting it up.
func (l *loader) configured(channel string, at rules.Pos, what, other string) {
	if channel == onSpool || l.channels[channel] || l.settingsBad {
		return
	}
	l.wrong(at, what+", which is not set up", "add "+channel+": to "+settingsFile+", or "+other)
}
