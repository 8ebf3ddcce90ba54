package journal

import (
	"bytes"
	"encoding/json"
	"errors"
	"reflect"
	"testing"
	"time"

	"pgregory.net/rapid"

	"stepgate/rules"
)

// oddText draws what strings may hold: any runes, any bytes, and what JSON
// escapes.
func oddText(t *rapid.T, label string) string {
	return rapid.OneOf(rapid.String(), rapid.Just(""),
		rapid.Map(rapid.SliceOf(rapid.Byte()), func(b []byte) string { return string(b) }),
		rapid.SampledFrom([]string{"a\nb", `"\/`, "<&>", "\u2028\u2029", "\x7f\x00\x1f\b\f\r\t", "\xed\xa0\x80", "\xff\xff", "ñ\ufffd"}),
	).Draw(t, label)
}

// oddTime draws times in zones, with parts of a second, out of range, or none.
func oddTime(t *rapid.T, label string) time.Time {
	at := rapid.OneOf(rapid.Just(time.Time{}), rapid.Custom(func(t *rapid.T) time.Time {
		secs := rapid.OneOf(rapid.Int64Range(0, 1<<33), rapid.Int64Range(-1<<37, 1<<39)).Draw(t, "seconds")
		return time.Unix(secs, int64(rapid.SampledFrom([]int{0, 1, 120_000_000, 999_999_999}).Draw(t, "ns")))
	})).Draw(t, label)
	return at.In(rapid.SampledFrom([]*time.Location{time.UTC, time.FixedZone("", -4*3600), time.FixedZone("", 3600+17)}).Draw(t, "zone"))
}

var readings, hearings = eachField[rules.Reading](nil), eachField[rules.Hearing](nil)

func oddState(t *rapid.T) *rules.State {
	n := rapid.IntRange(0, 10)
	st := &rules.State{Rev: rapid.Int().Draw(t, "rev"), Program: oddText(t, "program"), Decided: rules.Date(rapid.IntRange(0, 99999).Draw(t, "decided")),
		P: n.Draw(t, "p"), Due: rapid.Bool().Draw(t, "due"), Asked: rules.Question(oddText(t, "asked"))}
	if rapid.Bool().Draw(t, "heard") {
		score, wear := n.Draw(t, "score"), rapid.Float64Range(0, 30).Draw(t, "wear")
		st.Heard = rules.Heard{Any: true, Score: &score, Wear: &wear}
		st.Days = []rules.DayLog{{Date: 20731, Score: &score}}
		st.Pause = &rules.Pause{Since: 20731, Cause: oddText(t, "cause")}
	}
	return st
}

func oddDecision(t *rapid.T) *rules.Decision {
	d := &rules.Decision{Date: rules.Date(rapid.IntRange(0, 99999).Draw(t, "date")), Day: rapid.IntRange(-3, 400).Draw(t, "day"),
		State: rules.InState(oddText(t, "state")), Wear: time.Duration(rapid.IntRange(0, 900).Draw(t, "wear")) * time.Minute,
		Send: rapid.Bool().Draw(t, "send"), Ask: rules.Question(oddText(t, "ask")),
		Why: rules.Reason{Code: rules.Code(oddText(t, "why")), By: oddText(t, "by"), At: rules.Pos{File: oddText(t, "file"), Line: 3}}}
	for range rapid.IntRange(0, 3).Draw(t, "doses") {
		d.Doses = append(d.Doses, rules.Due{Exercise: oddText(t, "exercise"), Sets: 2, Hold: 30 * time.Second, Tempo: rules.Tempo{Up: 3}})
	}
	return d
}

// oddEvent draws an event with anything in the fields that payload writes by
// hand, and now and then something in one that it does not.
func oddEvent(t *rapid.T) Event {
	some := func(what string) bool { return rapid.Bool().Draw(t, what) }
	e := Event{Key: oddText(t, "key"), Why: oddText(t, "why")}
	if some("state") {
		e.State = oddState(t)
	}
	if some("due") {
		at := oddTime(t, "due at")
		e.Due = &at
	}
	if some("decision") {
		e.Decision = oddDecision(t)
	}
	if some("result") {
		e.Result = &Result{Status: oddText(t, "status"), ID: oddText(t, "id"), Code: oddText(t, "code"), Retry: oddTime(t, "retry")}
	}
	if some("out") {
		e.Out = oddOut(t)
		if some("next") {
			e.Out.Decision, e.Out.Next = oddDecision(t), oddState(t)
		}
	}
	if some("in") {
		e.In = &In{Channel: oddText(t, "in channel"), ID: oddText(t, "in id"), From: oddText(t, "in from"), Text: oddText(t, "in text"),
			Came: oddTime(t, "came"), Day: rules.Date(rapid.IntRange(0, 99999).Draw(t, "in day")),
			Reading: rapid.SampledFrom(readings).Draw(t, "reading")}
		if some("hearing") {
			h := rapid.SampledFrom(hearings).Draw(t, "hearing")
			e.In.Hearing = &h
		}
	}
	if rapid.IntRange(0, 4).Draw(t, "other") == 0 {
		e.Note = "a note"
	}
	return e
}

func oddOut(t *rapid.T) *Out {
	o := &Out{Key: oddText(t, "out key"), Kind: oddText(t, "out kind"), Channel: oddText(t, "channel"), From: oddText(t, "from"),
		To: oddText(t, "to"), Subject: oddText(t, "subject"), Text: oddText(t, "text"), HTML: oddText(t, "html"), ReplyTo: oddText(t, "reply to"),
		Made: oddTime(t, "made"), Until: oddTime(t, "until"), Rev: rapid.Int().Draw(t, "out rev"), NextDue: oddTime(t, "next due"),
		Rank: rapid.Int().Draw(t, "rank"), Segments: rapid.IntRange(0, 9).Draw(t, "segments"), Again: oddTime(t, "again")}
	o.Alerts = rapid.SampledFrom([][]uint64{nil, {}, {1}, {7, 1<<64 - 1}}).Draw(t, "alerts")
	return o
}

// What is applied is what a replay reads from the payload, and the payload is
// what encoding/json makes of the event.
func TestPayloadAsRead(t *testing.T) {
	quick := 0
	rapid.Check(t, func(t *rapid.T) {
		c, e := &core{}, oddEvent(t)
		want, wantErr := toJSON(inUTC(e))
		plain, b, err := payload(&e, c.plain.anew())
		if (err != nil) != (wantErr != nil) {
			t.Fatalf("%v, want %v", err, wantErr)
		}
		if err != nil {
			return
		}
		if !bytes.Equal(plain, want) {
			t.Fatalf("\n%s, want\n%s", plain, want)
		}
		back, err := parseBody(want)
		if err != nil || !reflect.DeepEqual(b, back) {
			t.Fatalf("\n%#v, want\n%#v; %v", b, back, err)
		}
		if err := e.Encode(); err != nil || !reflect.DeepEqual(e.ahead.body, back) || !bytes.Equal(e.ahead.packed, pack(want)) {
			t.Fatalf("encoded ahead: %+v, %v", e.ahead, err)
		}
		if in := inUTC(e); in.usual() {
			quick++
		}
	})
	if quick == 0 {
		t.Error("no event went the quick way")
	}
}

// Rows, letters, people and what they were told are the bytes that encoding/json
// makes of them, and are read as encoding/json reads them.
func TestFormsAsJSON(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := &core{}
		state, _ := toJSON(oddState(t))
		dec, _ := toJSON(oddDecision(t))
		r := &row{rawOut: rawOut{Out: *oddOut(t)}, Enrollment: oddText(t, "enrollment"), Status: Status(oddText(t, "row status")), Tries: rapid.Int().Draw(t, "tries"),
			NotBefore: oddTime(t, "not before"), CarrierID: oddText(t, "carrier"), Code: oddText(t, "row code"), Seq: rapid.Uint64().Draw(t, "seq"),
			SentAt: oddTime(t, "sent"), News: oddText(t, "news"), NewsCode: oddText(t, "news code"), Day: rules.Date(rapid.IntRange(0, 99999).Draw(t, "day"))}
		p := &person{State: state, Due: oddTime(t, "person due"), Gone: rapid.Bool().Draw(t, "gone"), Since: oddTime(t, "since"), From: r.From,
			Dead: rapid.SampledFrom([][]byte{nil, {0, 255, 7}}).Draw(t, "dead"), Told: dec, Last: r.Seq}
		to := &told{Date: r.Day, Day: r.Tries, Step: r.Rank, Steps: 6, Why: json.RawMessage("null"), WearWhy: dec}
		sameRow(t, r)
		sent, _ := toJSON(map[string]any{"due": day, "out": &rawOut{Out: r.Out, Decision: dec, Next: state}})
		asJSON(t, sent, readIntent)
		sameForm(t, p, func() ([]byte, error) { return c.personJSON(p) }, func(v []byte) (*person, error) { return readPerson("p1", v) })
		sameForm(t, to, func() ([]byte, error) { return c.toldJSON(to) }, nil)
	})
}

// sameRow checks that a row is read as it was written, and refused where it is
// cut short.
func sameRow(t *rapid.T, r *row) {
	want := *r
	want.To, want.Subject, want.Text, want.HTML, want.Out.Decision, want.Out.Next = "", "", "", "", nil, nil
	for _, at := range want.times() {
		if *at = at.UTC(); at.IsZero() {
			*at = time.Time{}
		}
	}
	if len(want.Alerts) == 0 {
		want.Alerts = nil
	}
	v := r.marshal()
	got, err := parseRow(r.Seq, v)
	if err != nil || !reflect.DeepEqual(*got, want) {
		t.Fatalf("%x\nread as %+v, %v; want\n%+v", v, got, err, want)
	}
	for n := range v {
		if _, err := parseRow(r.Seq, v[:n]); !errors.Is(err, ErrDamaged) {
			t.Fatalf("a row cut to %d of %d bytes: %v", n, len(v), err)
		}
	}
	if _, err := parseRow(r.Seq, append(v, 0)); !errors.Is(err, ErrDamaged) {
		t.Fatalf("a row with a byte more: %v", err)
	}
}

func sameForm[T any](t *rapid.T, v *T, write func() ([]byte, error), read func([]byte) (*T, error)) {
	want, wantErr := toJSON(v)
	got, err := write()
	if (err != nil) != (wantErr != nil) || !bytes.Equal(got, want) {
		t.Fatalf("\n%s %v, want\n%s %v", got, err, want, wantErr)
	}
	if err == nil && read != nil {
		asJSON(t, want, read)
	}
}

// asJSON checks that a value is read as encoding/json reads it.
func asJSON[T any](t interface{ Fatalf(string, ...any) }, v []byte, read func([]byte) (*T, error)) {
	var want T
	wantErr := json.Unmarshal(v, &want)
	got, err := read(v)
	if (err != nil) != (wantErr != nil) || err == nil && !reflect.DeepEqual(*got, want) {
		t.Fatalf("%s\nread as %+v, %v; want %+v, %v", v, got, err, want, wantErr)
	}
}

// A state and a decision are written as encoding/json writes them, with any
// field that there is, and the usual ones by hand.
func TestStateWritten(t *testing.T) {
	byHand := 0
	for _, st := range states(t) {
		want, err := toJSON(st)
		got, err2 := stateJSON(&st)
		if err != nil || err2 != nil || !bytes.Equal(got, want) {
			t.Errorf("\n%s, want\n%s; %v, %v", got, want, err, err2)
		}
		w := &jsonOut{}
		if w.state(&st); !w.odd {
			byHand++
		}
	}
	for _, dec := range decisions(t) {
		want, err := toJSON(dec)
		got, err2 := decisionJSON(&dec)
		if err != nil || err2 != nil || !bytes.Equal(got, want) {
			t.Errorf("\n%s, want\n%s; %v, %v", got, want, err, err2)
		}
		w := &jsonOut{}
		if w.decision(&dec); !w.odd {
			byHand++
		}
	}
	if byHand < 90 {
		t.Errorf("only %d were written by hand", byHand)
	}
}

// states are states with each field set that they and their parts have: a part
// that is not written by hand must not hide another.
func states(t testing.TB) []rules.State {
	t.Helper()
	list := eachField[rules.State](t)
	for _, h := range eachField[rules.Heard](t) {
		list = append(list, rules.State{Heard: h})
	}
	for _, s := range eachField[rules.Skin](t) {
		list = append(list, rules.State{Skin: s})
	}
	return append(list, rules.State{Days: eachField[rules.DayLog](t)})
}

func decisions(t testing.TB) []rules.Decision {
	t.Helper()
	list := eachField[rules.Decision](t)
	for _, r := range eachField[rules.Reason](t) {
		list = append(list, rules.Decision{Why: r})
	}
	for _, d := range eachField[rules.Due](t) {
		list = append(list, rules.Decision{Doses: []rules.Due{d}})
	}
	return list
}

// eachField gives values with each of their fields set, a field at a time and then
// all of them.
func eachField[T any](t testing.TB) (list []T) {
	var all T
	for i := range reflect.TypeFor[T]().NumField() {
		var one T
		fill(t, reflect.ValueOf(&one).Elem().Field(i))
		fill(t, reflect.ValueOf(&all).Elem().Field(i))
		list = append(list, one)
	}
	return append(list, all)
}

// fill sets a value to something, and all that is in it.
func fill(t testing.TB, v reflect.Value) {
	switch v.Kind() {
	case reflect.Bool:
		v.SetBool(true)
	case reflect.Int, reflect.Int32, reflect.Int64:
		v.SetInt(7)
		if v.Type() == reflect.TypeFor[time.Duration]() {
			v.SetInt(int64(2 * time.Minute))
		}
	case reflect.Float64:
		v.SetFloat(1.5)
	case reflect.String:
		v.SetString("x")
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		fill(t, v.Elem())
	case reflect.Map:
		v.Set(reflect.MakeMap(v.Type()))
		key, val := reflect.New(v.Type().Key()).Elem(), reflect.New(v.Type().Elem()).Elem()
		fill(t, key)
		fill(t, val)
		v.SetMapIndex(key, val)
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 2, 2))
		fill(t, v.Index(0))
	case reflect.Struct:
		for i := range v.NumField() {
			fill(t, v.Field(i))
		}
	default:
		t.Fatalf("a state has a %s", v.Type())
	}
}

// A person's state is read as encoding/json reads it, whatever it holds, and
// the usual ones by hand.
func TestPersonRead(t *testing.T) {
	byHand := 0
	for _, st := range states(t) {
		b, err := toJSON(Person{State: st, Since: day})
		if err != nil {
			t.Fatal(err)
		}
		asJSON(t, b, func(v []byte) (*Person, error) { return parsePerson([]byte("p1"), v) })
		if (&Person{}).scan(b) {
			byHand++
		}
	}
	if byHand < 40 {
		t.Errorf("only %d states were read by hand", byHand)
	}
}

// pointer makes readers of a plain value and of one that may be none alike.
func pointer[T any](read func([]byte) (T, error)) func([]byte) (*T, error) {
	return func(v []byte) (*T, error) { is, err := read(v); return &is, err }
}

// FuzzReadJSON: whatever lies in the file is read, or refused, as encoding/json
// would.
func FuzzReadJSON(f *testing.F) {
	_, plain := goldenPlain(f)
	for _, p := range plain {
		if b, err := parseBody(p); err == nil && b.Out != nil {
			f.Add([]byte(b.Out.Decision))
			f.Add([]byte(b.Out.Next))
		}
		f.Add(p)
	}
	for _, st := range append(states(f), rules.State{}) {
		b, err := toJSON(Person{State: st, Since: day, Told: &Told{Date: 20731, Why: rules.Reason{Code: rules.PainHeld, Score: new(int), By: "x", At: rules.Pos{File: "a", Line: 2}}}})
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b)
	}
	for _, s := range []string{`{"key":"a","made":"2026-10-05T14:00:00Z","seq":1,"day":"2026-10-05"}`, `{"KEY":"a"}`, `{"key":null,"rev":1e2}`,
		`{"state":{"rev":01},"since":""}`, `{"rev":-0,"rev":2,"Rev":3}`, `{"state":{"a":[1,{"b":"\u00e9"}]},"told":null,"gone":false} `,
		`{"rev":1,}`, `{,"rev":1}`, `{"rev":9999999999999999999}`, `{"doses":[{"exercise":"a"},{"Exercise":"b"}],"why":{"code":"x"}}`, `{"doses":[]}`,
		`{"to":"\ud83d\ude00\x","text":"a`, "{\"to\":\"\xff\"}", `{"a":{`, `{"a":"\`, `{"a":"\u1`, `{`, ``, `null`, `{"seq":-1}`, `{"dead":"AA=="}`, `{"day":"2026-13-01"}`} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, v []byte) {
		asJSON(t, v, readIntent)
		asJSON(t, v, func(v []byte) (*person, error) { return readPerson("p1", v) })
		asJSON(t, v, func(v []byte) (*Person, error) { return parsePerson([]byte("p1"), v) })
		if len(v) > 0 {
			asJSON(t, v, readHeard)
		}
		asJSON(t, v, func(v []byte) (*decided, error) { return parseDecision(v) })
		type rev struct {
			Rev int `json:"rev"`
		}
		asJSON(t, v, pointer(func(v []byte) (r rev, err error) { r.Rev, err = readRev(v); return r, err }))
		type program struct {
			Program string `json:"prog"`
		}
		if len(v) > 0 {
			asJSON(t, v, pointer(func(v []byte) (p program, err error) { p.Program, err = readProgram(v); return p, err }))
		}
		var r struct {
			Code rules.Code `json:"code"`
		}
		if err := json.Unmarshal(v, &r); err == nil && readCode(v) != r.Code {
			t.Fatalf("%s: code %q, want %q", v, readCode(v), r.Code)
		}
	})
}
