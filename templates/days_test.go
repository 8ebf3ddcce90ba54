package templates

import (
	"time"

	"stepgate/rules"
)

type dailySample struct {
	name  string
	max   int
	dec   rules.Decision
	proxy bool
}

// byProxy is a patient whose texts somebody else gets.
var byProxy = Patient{Name: "Ana", Proxy: "Jo", Language: "en", Affected: "left"}

func (d dailySample) who() Patient {
	if d.proxy {
		return byProxy
	}
	return ana
}

// dayOf is a usual day with these doses and this wear time.
func dayOf(dues []rules.Due, wear time.Duration, changes ...func(*rules.Decision)) rules.Decision {
	d := rules.Decision{Date: monday, Day: 15, P: 15, W: 3, Step: 2, Steps: 3, State: rules.InActive,
		Why: rules.Reason{Code: rules.Tick}, Wear: wear, WearNow: wear > 0, Doses: dues, Send: true, Ask: rules.AskPain}
	for _, change := range changes {
		change(&d)
	}
	return d
}

func held(d *rules.Decision) {
	d.State, d.Ask = rules.InHeld, rules.AskPainNow
	d.Why = rules.Reason{Code: rules.PainHeld, Since: monday - 1, Score: score(5), Line: 4, Need: 2}
}

func rest(code rules.Code) func(*rules.Decision) {
	return func(d *rules.Decision) {
		held(d)
		d.Doses, d.Rest, d.Why.Code = nil, true, code
	}
}

func out(code rules.Code) func(*rules.Decision) {
	return func(d *rules.Decision) { d.WearOut, d.WearNow, d.WearWhy.Code = true, true, code }
}

func in(state rules.InState, code rules.Code) func(*rules.Decision) {
	return func(d *rules.Decision) { d.State, d.Why.Code = state, code }
}

func firstText(d *rules.Decision)  { d.First, d.P, d.W, d.Step = true, 1, 1, 1 }
func weekly(d *rules.Decision)     { d.Weekly = true }
func skinCheck(d *rules.Decision)  { d.Skin = true }
func support(d *rules.Decision)    { d.Support = true }
func firstSteps(d *rules.Decision) { d.Ask = rules.AskFirstStep }
func newDevice(d *rules.Decision)  { d.WearWhy.Code = rules.DeviceNew }
func afterBreak(d *rules.Decision) { d.Why.Code, d.WearWhy.Code = rules.Break, rules.Break }
func closing(d *rules.Decision)    { d.Closing, d.Ask = true, rules.AskNothing }

func dailySamples() []dailySample {
	return append(plainDays(), otherDays()...)
}

// plainDays are the days of a patient on the dose table.
func plainDays() []dailySample {
	return []dailySample{
		{name: "one", max: 1, dec: dayOf(oneDue, 0)},
		{name: "one-wear", max: 2, dec: dayOf(oneDue, time.Hour)},
		{name: "two-wear", max: 2, dec: dayOf(twoDue, 90*time.Minute)},
		{name: "three-wear", max: 2, dec: dayOf(threeDue, 3*time.Hour)},
		{name: "mixed-wear", max: 2, dec: dayOf(mixedDue, 3*time.Hour)},
		{name: "alike-wear", max: 2, dec: dayOf(alikeDue, 8*time.Hour)},
		{name: "wear-only", max: 1, dec: dayOf(nil, 3*time.Hour)},
		{name: "wear-out", max: 2, dec: dayOf(oneDue, 0, out(rules.SkinOut))},
		{name: "first-steps", max: 2, dec: dayOf(oneDue, time.Hour, firstSteps)},
		{name: "held", max: 2, dec: dayOf(oneDue, 3*time.Hour, held)},
		{name: "held-rest", max: 1, dec: dayOf(nil, 3*time.Hour, rest(rules.PainHeld))},
		{name: "stepped-back", max: 1, dec: dayOf(nil, 3*time.Hour, rest(rules.StepBack))},
		{name: "eased", max: 2, dec: dayOf(twoDue, 0, held, func(d *rules.Decision) { d.Eased, d.State = true, rules.InEased })},
		{name: "clinic-hold", max: 1, dec: dayOf(oneDue, 0, in(rules.InHeld, rules.ClinicHeld))},
		{name: "waiting", max: 1, dec: dayOf(oneDue, 0, in(rules.InWaiting, rules.Waiting))},
		{name: "first", max: 3, dec: dayOf(oneDue, time.Hour, firstText)},
		{name: "first-two", max: 3, dec: dayOf(twoDue, time.Hour, firstText)},
		{name: "first-three", max: 4, dec: dayOf(threeDue, time.Hour, firstText)},
		{name: "first-wear-only", max: 3, dec: dayOf(nil, time.Hour, firstText)},
		{name: "first-first-steps", max: 3, dec: dayOf(oneDue, time.Hour, firstText, firstSteps)},
	}
}

// otherDays are those of silence, cautions, devices, proxies and the end, and
// doses with more to say.
func otherDays() []dailySample {
	return []dailySample{
		{name: "weekly", max: 1, dec: dayOf(oneDue, 3*time.Hour, weekly)},
		{name: "weekly-out", max: 2, dec: dayOf(oneDue, 0, out(rules.SkinOut), weekly)},
		{name: "weekly-proxy", max: 1, dec: dayOf(oneDue, 3*time.Hour, weekly), proxy: true},
		{name: "closing", max: 1, dec: dayOf(oneDue, 8*time.Hour, in(rules.InFinished, rules.Finished), closing)},
		{name: "skin", max: 2, dec: dayOf(oneDue, 3*time.Hour, skinCheck)},
		{name: "skin-first-steps", max: 2, dec: dayOf(oneDue, 3*time.Hour, skinCheck, firstSteps)},
		{name: "skin-stop", max: 2, dec: dayOf(oneDue, 0, out(rules.SkinStop), skinCheck)},
		{name: "new-inserts", max: 2, dec: dayOf(oneDue, time.Hour, newDevice)},
		{name: "support", max: 2, dec: dayOf(twoDue, time.Hour, support)},
		{name: "three-skin-support", max: 3, dec: dayOf(threeDue, 3*time.Hour, skinCheck, support)},
		{name: "maintenance", max: 1, dec: dayOf(oneDue, 0, in(rules.InMaintenance, rules.Tick))},
		{name: "maintenance-two", max: 2, dec: dayOf(twoDue, 0, in(rules.InMaintenance, rules.Tick))},
		{name: "break", max: 2, dec: dayOf(oneDue, time.Hour, afterBreak)},
		{name: "first-rise", max: 2, dec: dayOf(oneDue, 3*time.Hour, in(rules.InHeld, rules.FirstRise))},
		{name: "heavy", max: 2, dec: dayOf(heavyDue, 0)},
		{name: "form", max: 2, dec: dayOf(formDue, 0)},
		{name: "form-left", max: 2, dec: dayOf(leftDue, 0)},
		{name: "proxy", max: 2, dec: dayOf(oneDue, time.Hour), proxy: true},
		{name: "proxy-short", max: 2, dec: dayOf(threeDue, 3*time.Hour), proxy: true},
		{name: "first-proxy", max: 3, dec: dayOf(oneDue, time.Hour, firstText), proxy: true},
		{name: "first-proxy-two", max: 3, dec: dayOf(twoDue, time.Hour, firstText), proxy: true},
		{name: "first-skin-support", max: 4, dec: dayOf(oneDue, time.Hour, firstText, skinCheck, support)},
	}
}
