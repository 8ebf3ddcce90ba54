package journal

import (
	"strings"
	"time"

	"stepgate/rules"
)

// What the rules say, in the JSON that encoding/json makes of it: a test sets
// every field there is and holds the two together. What is seldom there turns w
// odd.

func stateJSON(s *rules.State) ([]byte, error) {
	w := scratch.Get().(*jsonOut)
	defer scratch.Put(w)
	w.anew().state(s)
	return w.written(s)
}

func decisionJSON(d *rules.Decision) ([]byte, error) {
	w := scratch.Get().(*jsonOut)
	defer scratch.Put(w)
	w.anew().decision(d)
	return w.written(d)
}

func (w *jsonOut) state(s *rules.State) {
	w.odd = w.odd || s.Hold != nil || s.Pause != nil || s.Held != nil || s.Away != nil || len(s.Backs) > 0 || len(s.Read) > 0
	w.open()
	w.number("rev", s.Rev)
	w.mayText("prog", s.Program)
	w.mayText("ed", s.Edition)
	w.date("dec", s.Decided)
	w.mayNumber("p", s.P)
	w.mayNumber("w", s.W)
	w.mayDate("base", s.Base)
	w.mayNumber("wk", s.Week)
	w.mayTrue("due", s.Due)
	w.mayTrue("msg", s.Sent)
	w.mayTrue("wa", s.WasAway)
	w.mayTrue("wp", s.WasPaused)
	w.mayTrue("ns", s.NotSent)
	w.mayTrue("first", s.First)
	w.mayNumber("wm", s.WearMin)
	w.name("heard")
	w.heard(&s.Heard)
	w.date("win", s.Window)
	w.dayLogs(s.Days)
	w.date("back", s.Back)
	w.mayTrue("over", s.Over)
	w.mayTrue("eased", s.Eased)
	w.mayNumber("cap", s.Cap)
	w.name("skin")
	w.open()
	w.mayTrue("out", s.Skin.Out)
	w.mayNumber("wait", s.Skin.Wait)
	w.mayTrue("fresh", s.Skin.Fresh)
	w.mayTrue("stop", s.Skin.Stop)
	w.mayTrue("freed", s.Skin.Freed)
	w.close()
	w.mayNumber("quiet", s.Quiet)
	w.mayNumber("blank", s.Blank)
	w.mayNumber("mute", s.Mute)
	w.mayNumber("hush", s.Hush)
	w.mayNumber("gap", s.Gap)
	w.mayDate("said", s.Told)
	w.stateEnd(s)
	w.close()
}

func (w *jsonOut) stateEnd(s *rules.State) {
	w.mayNumber("brk", s.Breaks)
	w.mayNumber("brkwk", s.BrkWeek)
	w.mayDate("gone", s.Gone)
	w.mayNumber("off", s.Off)
	w.mayNumbers("fs", s.Firsts)
	w.mayNumber("rises", s.Rises)
	w.mayDate("stepask", s.StepAsk)
	w.mayDate("maint", s.Maint)
	w.mayNumber("revs", s.Reviews)
	w.mayNumber("rvtold", s.RevTold)
	w.mayDate("dev", s.Device)
	w.mayTrue("devout", s.DevOut)
	w.mayTrue("susp", s.Suspended)
	w.mayTrue("lost", s.Lost)
	w.mayTrue("fin", s.Finished)
	w.mayTrue("reach", s.Reach)
	w.mayTrue("disc", s.Discharged)
	w.mayTrue("greet", s.Greeted)
	w.mayText("asked", string(s.Asked))
	w.mayText("last", string(s.Last))
}

func (w *jsonOut) heard(h *rules.Heard) {
	w.odd = w.odd || h.Wear != nil
	w.open()
	w.mayTrue("any", h.Any)
	w.mayNumberAt("score", h.Score)
	w.mayNumber("half", h.Halves)
	w.mayTrue("none", h.None)
	w.mayTrue("skin", h.Skin)
	w.mayTrue("clean", h.Clean)
	w.mayNumberAt("first", h.First)
	w.mayTrue("skin_ok", h.SkinOK)
	w.mayTrue("flag", h.Flag)
	w.close()
}

func (w *jsonOut) dayLogs(days []rules.DayLog) {
	if len(days) == 0 {
		return
	}
	w.name("days")
	for i := range days {
		d := &days[i]
		w.b = append(w.b, "[,"[min(i, 1)])
		w.open()
		w.date("d", d.Date)
		w.mayTrue("due", d.Due)
		w.mayNumber("h", d.Halves)
		w.mayNumberAt("s", d.Score)
		w.mayTrue("a", d.Any)
		w.close()
	}
	w.b = append(w.b, ']')
}

func (w *jsonOut) decision(d *rules.Decision) {
	w.odd = w.odd || len(d.Notices) > 0
	w.open()
	w.date("date", d.Date)
	w.number("day", d.Day)
	w.number("program_day", d.P)
	w.number("wear_day", d.W)
	w.number("step", d.Step)
	w.number("steps", d.Steps)
	w.tame("state", string(d.State))
	w.reason("why", &d.Why)
	w.reason("wear_why", &d.WearWhy)
	w.mayTrue("wear_out", d.WearOut)
	w.mayTrue("wear_now", d.WearNow)
	w.doses(d.Doses)
	w.mayTrue("rest", d.Rest)
	w.mayTrue("eased", d.Eased)
	w.mayTrue("weekly", d.Weekly)
	w.mayTrue("closing", d.Closing)
	w.mayTrue("skin_check", d.Skin)
	w.mayTrue("support", d.Support)
	w.truth("send", d.Send)
	w.mayTrue("first", d.First)
	w.mayTame("ask", string(d.Ask))
	w.number("wear_minutes", int(d.Wear/time.Minute))
	w.close()
}

func (w *jsonOut) reason(k string, r *rules.Reason) {
	w.name(k)
	w.open()
	w.tame("code", string(r.Code))
	w.mayTame("rule", r.Rule)
	if r.At != (rules.Pos{}) {
		w.name("at")
		w.open()
		w.mayTame("file", r.At.File)
		w.mayNumber("line", r.At.Line)
		w.mayNumber("column", r.At.Column)
		w.close()
	}
	w.mayNumberAt("score", r.Score)
	w.mayNumber("line", r.Line)
	w.mayDate("since", r.Since)
	w.mayNumber("have", r.Have)
	w.mayNumber("need", r.Need)
	w.mayTame("short", r.Short)
	w.mayTame("by", r.By)
	w.close()
}

func (w *jsonOut) doses(list []rules.Due) {
	if len(list) == 0 {
		return
	}
	w.name("doses")
	for i := range list {
		d := &list[i]
		w.odd = w.odd || len(d.Load) > 0
		w.b = append(w.b, "[,"[min(i, 1)])
		w.open()
		w.tame("exercise", d.Exercise)
		w.tame("side", string(d.Side))
		w.number("sets", d.Sets)
		w.number("reps", d.Reps)
		w.number("sessions", d.Sessions)
		w.mayTame("form", d.Form)
		w.mayTame("only", d.Only)
		w.mayNumber("rm", d.RM)
		if d.Tempo != (rules.Tempo{}) {
			w.name("tempo")
			w.open()
			w.number("up", d.Tempo.Up)
			w.number("hold", d.Tempo.Hold)
			w.number("down", d.Tempo.Down)
			w.close()
		}
		w.mayNumber("hold_seconds", int(d.Hold/time.Second))
		w.mayNumber("rest_seconds", int(d.Rest/time.Second))
		w.close()
	}
	w.b = append(w.b, ']')
}

// tame is text in a value that marshals itself: what HTML would take for its own
// is escaped in there.
func (w *jsonOut) tame(k, s string) {
	w.odd = w.odd || strings.ContainsAny(s, "<>&")
	w.text(k, s)
}

func (w *jsonOut) mayTame(k, s string) {
	if s != "" {
		w.tame(k, s)
	}
}

func (w *jsonOut) in(in *In) {
	w.open()
	w.text("channel", in.Channel)
	w.text("id", in.ID)
	w.text("from", in.From)
	w.text("text", in.Text)
	w.time("came", in.Came)
	w.date("day", in.Day)
	w.name("reading")
	w.reading(&in.Reading)
	if in.Hearing != nil {
		w.name("hearing")
		w.hearing(in.Hearing)
	}
	w.close()
}

func (w *jsonOut) reading(r *rules.Reading) {
	w.odd = w.odd || r.Wear != nil || len(r.Flags) > 0 || len(r.Denied) > 0
	w.open()
	w.mayText("done", string(r.Done))
	w.mayNumberAt("pain", r.Pain)
	w.mayNumberAt("first_step", r.FirstStep)
	w.mayText("side", r.Side)
	w.mayTrue("skin", r.Skin)
	w.mayTrue("skin_ok", r.SkinOK)
	w.mayNumberAt("how", r.How)
	w.mayNumberAt("away", r.Away)
	w.mayTrue("call", r.Call)
	w.mayTrue("stop", r.Stop)
	w.mayTrue("start", r.Start)
	w.mayTrue("help", r.Help)
	w.mayTrue("wrong_person", r.Wrong)
	w.mayTrue("echo", r.Echo)
	w.mayTrue("unread", r.Unread)
	w.mayTrue("ask_stop", r.AskStop)
	w.close()
}

// saidIn is what a replay reads of a reading that is written by hand.
func saidIn(r *rules.Reading) said {
	return said{Done: r.Done, Pain: r.Pain, FirstStep: r.FirstStep, Skin: r.Skin, SkinOK: r.SkinOK, Call: r.Call}
}

func (w *jsonOut) hearing(h *rules.Hearing) {
	w.odd = w.odd || len(h.Notices) > 0
	w.open()
	if len(h.Parts) > 0 {
		w.name("parts")
		for i, part := range h.Parts {
			w.b = append(w.b, "[,"[min(i, 1)])
			w.value(string(part))
		}
		w.b = append(w.b, ']')
	}
	w.mayText("ask", string(h.Ask))
	w.mayNumberAt("score", h.Score)
	w.mayNumber("left", h.Left)
	w.mayTrue("opt_out", h.OptOut)
	w.mayTrue("opt_in", h.OptIn)
	w.close()
}
