package caseload

import "stepgate/rules"

// Reading is what a text was taken for, as JSON: every key always, null for
// what was not said. A contract of every command that prints readings.
type Reading struct {
	Done      *rules.Done `json:"done"`
	Pain      *int        `json:"pain"`
	FirstStep *int        `json:"first_step"`
	Side      *string     `json:"side"`
	Skin      bool        `json:"skin"`
	SkinOK    bool        `json:"skin_ok"`
	WearHours *float64    `json:"wear_hours"`
	How       *int        `json:"how"`
	Away      *int        `json:"away"`
	Call      bool        `json:"call"`
	Stop      bool        `json:"stop"`
	Start     bool        `json:"start"`
	Help      bool        `json:"help"`
	Wrong     bool        `json:"wrong_person"`
	Flags     []string    `json:"red_flags"`
	Denied    []string    `json:"denied"`
	AskStop   bool        `json:"ask_stop"`
	Echo      bool        `json:"echo"`
	Unread    bool        `json:"unread"`
}

// ReadingOf is a reading as it is printed.
func ReadingOf(r rules.Reading) Reading {
	v := Reading{Pain: r.Pain, FirstStep: r.FirstStep, Skin: r.Skin, SkinOK: r.SkinOK, WearHours: r.Wear, How: r.How, Away: r.Away,
		Call: r.Call, Stop: r.Stop, Start: r.Start, Help: r.Help, Wrong: r.Wrong,
		Flags: flagNames(r.Flags), Denied: flagNames(r.Denied), AskStop: r.AskStop, Echo: r.Echo, Unread: r.Unread}
	if r.Done != "" {
		v.Done = &r.Done
	}
	if r.Side != "" {
		v.Side = &r.Side
	}
	return v
}

func flagNames(flags []rules.RedFlag) []string {
	names := make([]string, len(flags))
	for i, f := range flags {
		names[i] = f.Name
	}
	return names
}
