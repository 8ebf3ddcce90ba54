package config

import (
	"fmt"
	"strings"

	"stepgate/rules"
)

// proxy reads the parent or carer who gets the texts.
func (r *reading) proxy(e *Enrollment, s *proxyShape) {
	if s == nil || s.At.Bad {
		return
	}
	e.Proxy = &Proxy{}
	if r.need(s.At, "name", "write the first name of the parent or carer who gets the texts") {
		e.Proxy.Name, _ = r.line(s.Name, 40)
	}
	if r.need(s.At, "relation", "write what they are to the patient, like mother") {
		e.Proxy.Relation, _ = r.line(s.Relation, 40)
	}
}

// cautionWords are the cautions an enrollment can name.
var cautionWords = []string{"reduced sensation", "diabetes", "fragile skin", "balance", "growing"}

// condition reads what the clinician knows of the patient. The usual pain and
// the patient's own lines wait for the program.
func (r *reading) condition(p *patient, s *enrollmentShape) {
	for _, v := range r.once(s.Cautions) {
		word, _ := r.choice(v, cautionWords...)
		c := &p.Cautions
		switch word {
		case "reduced sensation":
			c.ReducedSensation = true
		case "diabetes", "fragile skin":
			c.FragileSkin = true
		case "balance":
			c.Balance = true
		case "growing":
			c.Growing = true
		}
	}
	for _, v := range r.once(s.UsualWords) {
		if word, ok := r.line(v, 60); ok {
			p.UsualWords = append(p.UsualWords, word)
		}
	}
	if u := s.Usual; u != nil && !u.At.Bad {
		p.wait().usual = spotOf(u.Pain.At)
		p.Usual, p.UsualStep = r.score(u.Pain), r.score(u.FirstStep)
		if len(u.At.Keys) == 0 {
			r.wrong(u.At.Pos, "usual says nothing", "write pain: or first step: with a score from 0 to 10")
		}
	}
	if o := s.Pain; o != nil && !o.At.Bad {
		p.wait().pain = &painShape{At: o.At, Steady: o.Steady, Hold: o.Hold, StepBack: o.StepBack, Pause: o.Pause, ClearDays: o.ClearDays}
		if r.need(o.At, "by", "write the name of the clinician who set these lines") {
			p.LinesBy, _ = r.line(o.By, 80)
		}
		if r.need(o.At, "on", "write the date they were set, like 2026-10-05") {
			p.LinesOn, _ = r.date(o.On)
		}
	}
}

// once gives the items of a list without those that stand there twice, which
// are noted.
func (n *notes) once(o OneOrMore) []Value {
	var out []Value
	seen := map[string]bool{}
	for _, v := range o.Items {
		key := strings.ToLower(v.Text)
		if seen[key] {
			n.wrong(v.At, v.Key+" names "+v.shown()+" twice", "keep one of them")
			continue
		}
		seen[key] = true
		out = append(out, v)
	}
	return out
}

// score reads a score from 0 to 10; nil where there is none.
func (n *notes) score(v Value) *int {
	if score, ok := n.whole(v, 0, 10); ok {
		return &score
	}
	return nil
}

// consentWords are what a consent can cover beside the messages.
var consentWords = []string{"export", "texts"}

// consented reads what may be done with the record. What is not named may not.
func (r *reading) consented(e *Enrollment, o OneOrMore) {
	for _, v := range r.once(o) {
		switch word, _ := r.choice(v, consentWords...); word {
		case "export":
			e.Consent.Export = true
		case "texts":
			e.Consent.Texts = true
		}
	}
	if e.Consent.Texts && !e.Consent.Export {
		r.wrong(o.Items[0].At, "covers names texts without export", "write covers: [export, texts], or take texts away")
	}
}

// visits reads the dates of the review visits.
func (r *reading) visits(e *Enrollment, o OneOrMore) {
	var last rules.Date
	for _, v := range o.Items {
		d, ok := r.date(v)
		switch {
		case !ok:
		case e.Dispensed != 0 && d < e.First():
			r.wrong(v.At, "the visit is dated before the enrollment begins", "look whether both dates are right")
		case d == last:
			r.wrong(v.At, v.Key+" names "+d.String()+" twice", "keep one of them")
		case d < last:
			r.wrong(v.At, fmt.Sprintf("%s has %s after %s", v.Key, d, last), "write the dates in order")
		default:
			last = d
			e.Visits = append(e.Visits, d)
		}
	}
}

// devices reads what happened to the devices, by date.
func (r *reading) devices(e *Enrollment, list []deviceShape) {
	var last rules.Device
	out, away := false, false // not with the patient; no back since the last out
	for _, s := range list {
		if s.At.Bad {
			continue
		}
		d, v, ok := r.device(s)
		if !ok {
			continue
		}
		switch {
		case e.Dispensed != 0 && d.On < e.Dispensed:
			r.wrong(v.At, "this is dated before the devices were dispensed", "look whether both dates are right")
			continue
		case d.On < last.On:
			r.wrong(v.At, fmt.Sprintf("devices has %s after %s", d.On, last.On), "write what happened in order of the dates")
			continue
		case d.Kind == rules.DeviceDispensed && e.Dispensed != 0 && d.On != e.Dispensed:
			r.wrong(v.At, "the devices were dispensed on "+e.Dispensed.String()+" already", "write remade: or second pair: for new ones")
			continue
		case d.Kind == rules.DeviceBack && !away:
			r.wrong(v.At, "the devices come back, but were not out", "write out: with its date before it")
			continue
		case d.Kind == rules.DeviceOut && out:
			r.wrong(v.At, "the devices are out already", "write back: with its date before it, or take this away")
			continue
		}
		switch d.Kind {
		case rules.DeviceOut:
			out, away = true, true
		case rules.DeviceBack:
			out, away = false, false
		case rules.DeviceRemade, rules.DeviceSecond:
			out = false // new ones are with the patient; a back may still be written
		}
		last = d
		e.Devices = append(e.Devices, d)
	}
}

// device reads one thing that happened to the devices.
func (r *reading) device(s deviceShape) (rules.Device, Value, bool) {
	all := []struct {
		kind rules.DeviceKind
		v    Value
	}{
		{rules.DeviceDispensed, s.Dispensed}, {rules.DeviceAdjusted, s.Adjusted}, {rules.DeviceOut, s.Out},
		{rules.DeviceBack, s.Back}, {rules.DeviceRemade, s.Remade}, {rules.DeviceSecond, s.Second},
	}
	d := rules.Device{At: s.At.Pos}
	var names []string
	var value Value
	for _, x := range all {
		names = append(names, string(x.kind))
		if s.At.has(string(x.kind)) {
			d.Kind, value = x.kind, x.v
		}
	}
	if len(s.At.Keys) != 1 {
		r.wrong(s.At.Pos, "an item of devices says one thing with its date", "write one of "+oneOf(names)+", like {adjusted: 2026-10-20}")
		return d, value, false
	}
	var ok bool
	d.On, ok = r.date(value)
	return d, value, ok
}
