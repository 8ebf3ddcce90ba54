package rules_test

import (
	"testing"
	"time"

	"stepgate/rules"
)

// devices are what happened to them, by date counted from 0.
func devices(list ...any) func(*rules.Enrollment) {
	return func(e *rules.Enrollment) {
		for i := 0; i < len(list); i += 2 {
			e.Devices = append(e.Devices, rules.Device{Kind: list[i].(rules.DeviceKind), On: monday + rules.Date(list[i+1].(int)),
				At: rules.Pos{File: "enrollments.yaml", Line: 20 + i, Column: 5}})
		}
	}
}

func TestDevices(t *testing.T) {
	const out, back, remade, second = rules.DeviceOut, rules.DeviceBack, rules.DeviceRemade, rules.DeviceSecond
	p := wearing(hourly)
	runRows(t, []row{
		{name: "dispensed and adjusted change nothing", program: p, enroll: devices(rules.DeviceDispensed, 0, rules.DeviceAdjusted, 2), days: "5xd0", w: "1-5"},
		{name: "out waits until back", program: p, enroll: devices(out, 3, back, 6), days: "8xd0", w: "1 2 3 3 3 3 4 5", p: "1-8",
			wearWhy: "first_day tick tick 3xdevice_out tick tick"},
		{name: "out and back on one date", program: p, enroll: devices(out, 3, back, 3), days: "5xd0", w: "1-5"},
		{name: "remade starts at one, P is untouched", program: p, enroll: devices(remade, 4), days: "7xd0", w: "1-4 1 2 3", p: "1-7",
			wearWhy: "first_day 3xtick device_new tick tick"},
		{name: "so does a second pair", program: p, enroll: devices(second, 4), days: "6xd0", w: "1-4 1 2"},
		{name: "remade after they were out", program: p, enroll: devices(out, 2, remade, 5), days: "7xd0", w: "1 2 2 2 2 1 2"},
		{name: "remade while held", program: p, enroll: devices(remade, 4), days: "3xd0 d5 0 0 0 -", w: "1 2 3 4 1 1 2 3",
			wearWhy: "first_day 3xtick device_new pain_hold tick tick"},
		{name: "remade while paused", program: p, enroll: devices(remade, 4), days: "3xd0 8 0 0 0 release -", w: "1-4 4x1 2"},
		{name: "remade and away", program: p, enroll: devices(remade, 4), days: "d0 d0 d0/a3 - - - d0 -", w: "1 2 3 3 1 1 1 2"},
		{name: "remade before the first date is the first day", program: p, enroll: devices(remade, 0), days: "3xd0", w: "1-3", wearWhy: "first_day tick tick"},
		{name: "a skin report outlives new devices", program: p, enroll: devices(remade, 5), days: "3xd0 b - d0 d0 d0 -", w: "1-4 3 1 1 1 2",
			wearWhy: "first_day 3xtick skin skin skin_back skin_waits tick"},
		{name: "waiting after one does not", program: p, enroll: devices(remade, 6), days: "3xd0 b d0 d0 d0 -", w: "1-4 3 3 1 2"},
		{name: "a skin report on devices that go out lowers them", program: p, enroll: devices(out, 4, back, 6), days: "3xd0 b d0 d0 d0 d0 d0",
			w: "1-4 3 3 3 3 4", wearWhy: "first_day 3xtick device_out device_out skin_back skin_waits tick"},
	})
	o := row{program: p, enroll: devices(out, 3, back, 6), days: "8xd0"}.play(t)
	if dec := only(t, o, 4); dec.Wear != 0 || dec.WearOut || dec.WearNow || dec.WearWhy.Since != monday+3 || dec.WearWhy.At.Line != 20 {
		t.Errorf("while the devices are out: %+v", dec)
	}
	if dec := only(t, row{program: p, enroll: devices(remade, 4), days: "5xd0"}.play(t), 4); dec.Wear != time.Hour || !dec.WearNow || dec.WearWhy.At.Line != 20 {
		t.Errorf("with new devices: %+v", dec)
	}
}

// TestDevicesWrittenLate: what the clinic writes down days later counts from
// when it is read, whatever stood in the list before.
func TestDevicesWrittenLate(t *testing.T) {
	p, e := wearing(hourly), enrolled()
	out := play(p, e, nil, readDays(t, "6xd0"))
	s := out[5].evening
	devices(rules.DeviceAdjusted, 5, rules.DeviceRemade, 4)(&e)
	s, dec := rules.Decide(p, &e, s, monday+6, rules.Facts{})
	if dec.W != 1 || dec.WearWhy.Code != rules.DeviceNew {
		t.Errorf("remade, written late: %+v", dec)
	}
	devices(rules.DeviceOut, 3)(&e)
	devices(rules.DeviceBack, 3)(&e)
	if _, dec = rules.Decide(p, &e, s, monday+7, rules.Facts{}); dec.WearWhy.Code == rules.DeviceNew {
		t.Errorf("once more: %+v", dec)
	}
}

func TestWearGoesOn(t *testing.T) {
	on := *hourly
	on.GoesOn = true
	runRows(t, []row{
		{name: "during a pain hold, where the program says so", program: wearing(&on), days: "d0 d5 d5 d5 d5", p: "1 2 2 2 2", w: "1-5"},
		{name: "but not during a pause", program: wearing(&on), days: "d0 8 d0 d0", w: "1 2 2 2"},
		{name: "nor with its own reasons to wait", program: wearing(&on), days: "d0 5 n w0.5 -", w: "1 2 3 3 3"},
	})
}

// TestReducedSensation: weekly growth at most, growth only after a reported
// skin check, no wear after a skin report until the clinician releases it.
func TestReducedSensation(t *testing.T) {
	numb := func(e *rules.Enrollment) { e.Cautions.ReducedSensation = true }
	p, slow := wearing(hourly), &rules.Wear{First: time.Hour, Add: time.Hour, Every: 10, Full: 3 * time.Hour}
	runRows(t, []row{
		{name: "ticks only after a reported skin check", program: p, enroll: numb, days: "ok d0 d0/ok d0 -", w: "1 2 2 3 3",
			wearWhy: "first_day tick skin_check tick skin_check"},
		{name: "a check and a complaint on one date is a complaint", program: p, enroll: numb, days: "ok ok/b ok -", w: "1 2 1 1",
			wearWhy: "first_day tick skin_stop skin_stop"},
		{name: "a skin report stops wear until the clinician releases it", program: p, enroll: numb, days: "9xok b ok ok letwear/ok ok ok -",
			w: "1-10 4x1 2 3", wearWhy: "first_day 9xtick 2xskin_stop skin_back skin_waits tick tick"},
		{name: "the release needs no report, and a later complaint stops wear again", program: p, enroll: numb, days: "b - letwear b ok -",
			wearWhy: "first_day skin_stop skin_back skin_waits skin_stop skin_stop"},
		{name: "released before the report is settled it goes back in, lowered", program: p, enroll: numb, days: "8xok b letwear ok ok ok",
			w: "1-9 1 1 1 2", wearWhy: "first_day 8xtick skin_back skin_waits skin_waits tick"},
		{name: "a complaint after that release counts", program: p, enroll: numb, days: "b letwear/b - -", wearWhy: "first_day skin_back skin_stop skin_stop"},
		{name: "also where neither is settled yet", program: p, enroll: numb, days: "b skip/letwear/b - -", wearWhy: "first_day . skin_stop skin_stop"},
		{name: "nor for others", program: p, days: "3xd0 b skip/letwear/b - -", w: "1-4 . 3 3", wearWhy: "first_day 3xtick . skin skin"},
		{name: "complaints on dates running cost one level", program: p, days: "4xd0 b b letwear d0 d0 -", w: "1-5 4 4 4 4 5"},
		{name: "new devices are released no sooner", program: p, enroll: func(e *rules.Enrollment) { numb(e); devices(rules.DeviceRemade, 2)(e) },
			days: "b ok ok ok letwear ok ok -", w: "1 1 1 1 1 1 1 2"},
		{name: "a release with nothing to release", program: p, enroll: numb, days: "ok letwear/ok ok", w: "1 2 3"},
		{name: "for others a release stands in for the report without a complaint", program: p, days: "3xd0 b - letwear d0 d0 -",
			w: "1-4 3 3 3 3 4", wearWhy: "first_day 3xtick skin skin_back skin_waits skin_waits tick"},
	})
	e := enrolled()
	numb(&e)
	if w := e.WearIn(p); w.Every != 7 || w.FullDay() != 50 || hourly.Every != 1 {
		t.Errorf("weekly growth at most: %+v", w)
	}
	if w := e.WearIn(wearing(slow)); w != slow {
		t.Errorf("slower growth stays: %+v", w)
	}
	if w := e.WearIn(plan(1)); w != nil {
		t.Errorf("none: %+v", w)
	}
	out := row{program: p, enroll: numb, days: "ok b"}.play(t)
	if s := out[1].evening.Skin; !s.Out || !s.Stop {
		t.Errorf("not stopped at once: %+v", s)
	}
}
