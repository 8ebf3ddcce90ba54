package outcomes

import (
	"encoding/json"
	"maps"
	"slices"
	"strings"
	"testing"
)

// keysOf lists the keys of JSON by path; those of a list's first element stand
// for all.
func keysOf(v any, path string, keys map[string]bool) {
	switch v := v.(type) {
	case map[string]any:
		for k, w := range v {
			keys[path+k] = true
			keysOf(w, path+k+".", keys)
		}
	case []any:
		if len(v) > 0 {
			keysOf(v[0], path, keys)
		}
	}
}

func keyList(t *testing.T, v any) string {
	t.Helper()
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	var back any
	if err := json.Unmarshal(b, &back); err != nil {
		t.Fatal(err)
	}
	keys := map[string]bool{}
	keysOf(back, "", keys)
	return strings.Join(slices.Sorted(maps.Keys(keys)), " ")
}

// The keys are what other programs read: added to, never renamed.
func TestKeysOfACourse(t *testing.T) {
	p := story()
	p.Days[7].FirstStep, p.UsualStep = 4, ptr(6)
	want := "base base.date base.from base.score" +
		" first_steps first_steps.change first_steps.date first_steps.day first_steps.improved first_steps.score id" +
		" improved_by_week_12 improved_by_week_12.change improved_by_week_12.date improved_by_week_12.score improved_by_week_12.verdict improved_by_week_12.week" +
		" improved_by_week_6 improved_by_week_6.change improved_by_week_6.date improved_by_week_6.score improved_by_week_6.verdict improved_by_week_6.week" +
		" program silence silence.dates silence.dropped silence.last_report silence.week" +
		" spans spans.cause spans.code spans.dates spans.from spans.open spans.to state" +
		" step_backs step_backs.code step_backs.date step_backs.from_step step_backs.to_step" +
		" steps steps.allowed steps.date steps.day steps.of_steps steps.program_day steps.step today" +
		counts(" total") +
		" total_wear total_wear.asked total_wear.asked_minutes total_wear.kept total_wear.reported total_wear.skin_complaint total_wear.worn_minutes" +
		" wear_weeks wear_weeks.asked wear_weeks.asked_minutes wear_weeks.from wear_weeks.kept wear_weeks.minutes wear_weeks.reported wear_weeks.skin_complaint wear_weeks.week wear_weeks.worn_minutes" +
		counts(" weeks", "allowed", "from", "step", "week")
	if got := keyList(t, Of(p)); got != want {
		t.Errorf("%s\nwant %s", got, want)
	}
}

// counts lists the keys of Counts and others beside them.
func counts(at string, more ...string) string {
	keys := append(more, strings.Fields("answered away clinic decided done due halves held not_today other pain paused scored sent some stood unreached waiting")...)
	slices.Sort(keys)
	return at + at + "." + strings.Join(keys, at+".")
}

func TestKeysOfAClinic(t *testing.T) {
	var tally Tally
	tally.Add(story())
	tally.Add(done(40, 3))
	tally.Add(answers(ptr(6), 90, map[int]int{43: 4, 85: 2}))
	improved := func(at string) string {
		keys := strings.Fields("by_first by_usual change change.median change.n change.q1 change.q3 compared improved no_answer no_base no_pain not_there_yet patients" +
			" share share.design_effect share.high share.low share.per_100 there too_few week")
		return at + at + "." + strings.Join(keys, at+".")
	}
	spread := func(at string) string {
		return at + at + "." + strings.Join([]string{"median", "n", "q1", "q3"}, at+".")
	}
	hurt := func(at, key string) string {
		keys := append(strings.Fields("answered days hurt of_answered of_answered.design_effect of_answered.high of_answered.low of_answered.per_100"+
			" pain patients program rate rate.design_effect rate.high rate.low rate.per_100 too_few"), key)
		slices.Sort(keys)
		return at + at + "." + strings.Join(keys, at+".")
	}
	want := "begun closed dates drop_off drop_off.dropped drop_off.never drop_off.open drop_off.weeks drop_off.weeks.patients drop_off.weeks.week" +
		spread(" exercise") + hurt(" exercises", "exercise") +
		" holds holds.cause holds.dates holds.patients holds.share" +
		improved(" improved_by_week_12") + improved(" improved_by_week_6") +
		spread(" pain_held") + " patients" + hurt(" steps", "step") +
		spread(" wear_kept") + spread(" wear_reported") +
		" wear_weeks wear_weeks.asked wear_weeks.kept wear_weeks.over wear_weeks.reported" + spread(" wear_weeks.wear_kept") + spread(" wear_weeks.wear_reported") + " wear_weeks.week" +
		" weeks weeks.answering weeks.could weeks.due" + spread(" weeks.exercise") + " weeks.halves weeks.over weeks.week"
	if got := keyList(t, tally.Clinic()); got != want {
		t.Errorf("%s\nwant %s", got, want)
	}
}
