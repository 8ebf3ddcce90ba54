package notify

import (
	"context"
	"encoding/json"
	"errors"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"stepgate/notify/carriertest"
)

// A list that was not read to its end, or is none, moves no point and gives
// nothing of that number: the older messages are those that are missing. The
// other number's are heard.
func TestCollectNeedsTheWholeList(t *testing.T) {
	page := func(next string, rows ...string) carriertest.Fault {
		return carriertest.Raw(200, "application/json",
			`{"messages":[`+strings.Join(rows, ",")+`],"next_page_uri":`+next+`}`)
	}
	const second = `"/x?Page=1&PageToken=PA1"`
	for name, faults := range map[string][]carriertest.Fault{
		"refused":         {carriertest.Refuse(401, 20003)},
		"too many":        {carriertest.TooMany("5")},
		"5xx":             {carriertest.HTML(503, 20_000)},
		"redirect":        {carriertest.Redirect("http://127.0.0.1/elsewhere")},
		"cut":             {carriertest.Cut()},
		"answer cut":      {carriertest.CutAnswer(200)},
		"hang":            {carriertest.Hang()},
		"HTML":            {carriertest.HTML(200, 300)},
		"empty object":    {carriertest.Raw(200, "application/json", `{}`)},
		"null":            {carriertest.Raw(200, "application/json", `{"messages":null}`)},
		"no next page":    {page(`"/x"`, listRow(nil))},
		"second page 5xx": {page(second, listRow(nil)), carriertest.Refuse(500, 20500)},
		"endless":         {page(second, listRow(nil)), page(second, listRow(nil))},
	} {
		t.Run(name, func(t *testing.T) {
			carrier, s, h, _ := collector(t, testAt)
			s.cfg.Timeout = 200 * time.Millisecond
			carrier.Receive(testTo, testFrom, "not listed")
			carrier.Receive(testTo, testFrom2, "P8")
			carrier.FailList(faults...)
			err := s.Collect(t.Context(), h.take)
			if err == nil {
				t.Fatal("no error")
			}
			sing(t, "error", err.Error())
			if got := h.texts(); !slices.Equal(got, []string{"P8"}) || !s.Point().Equal(testAt) {
				t.Errorf("heard %q up to %s", got, s.Point())
			}
			s.cfg.Timeout = defaultTimeout
			collect(t, s, h)
			if got := h.texts(); !slices.Equal(got, []string{"P8", "not listed"}) {
				t.Errorf("then heard %q", got)
			}
		})
	}
}

// listRow is an incoming message as the list shows it, with some changes; nil
// leaves a field out.
func listRow(change map[string]any) string {
	row := map[string]any{
		"sid": testSID, "direction": "inbound", "from": testTo, "to": testFrom, "body": "wall calf canary-word",
		"status": "received", "date_created": "Mon, 05 Oct 2026 12:59:58 +0000", "date_sent": "Mon, 05 Oct 2026 12:59:59 +0000",
	}
	for key, v := range change {
		if row[key] = v; v == nil {
			delete(row, key)
		}
	}
	b, err := json.Marshal(row)
	if err != nil {
		panic(err)
	}
	return string(b)
}

// A message that can't be read holds the point, after the others were heard,
// and is named in the log by nothing but its id.
func TestCollectUnreadable(t *testing.T) {
	good := listRow(map[string]any{"sid": "SM00000000000000000000000000000002", "body": "P4"})
	for name, c := range map[string]struct {
		row    string
		reason string
	}{
		"no id":          {listRow(map[string]any{"sid": nil}), "id"},
		"odd id":         {listRow(map[string]any{"sid": testTo}), "id"},
		"no sender":      {listRow(map[string]any{"from": nil}), "sender"},
		"long sender":    {listRow(map[string]any{"from": strings.Repeat("1", 65)}), "sender"},
		"no direction":   {listRow(map[string]any{"direction": nil}), "direction"},
		"odd direction":  {listRow(map[string]any{"direction": "wall calf"}), "direction"},
		"no date":        {listRow(map[string]any{"date_sent": nil, "date_created": nil}), "date"},
		"odd date":       {listRow(map[string]any{"date_sent": "canary-word"}), "date"},
		"nothing at all": {"null", "direction"},
	} {
		t.Run(name, func(t *testing.T) {
			carrier, s, h, _ := collector(t, testAt)
			log, logs := captureLogs(t)
			s.cfg.Log = log
			carrier.FailList(carriertest.Raw(200, "application/json", `{"messages":[`+c.row+`,`+good+`]}`))
			err := s.Collect(t.Context(), h.take)
			if err == nil || !s.Point().Equal(testAt) {
				t.Fatalf("%v, point %s", err, s.Point())
			}
			if got := h.texts(); !slices.Equal(got, []string{"P4"}) {
				t.Errorf("heard %q", got)
			}
			if !strings.Contains(logs.String(), `"sms.unread","reason":"`+c.reason+`"`) {
				t.Errorf("log %s", logs)
			}
			sing(t, "error", err.Error())
			sing(t, "log", logs.String())
		})
	}
}

// What may be missing or look otherwise in a message that can be read.
func TestCollectReadable(t *testing.T) {
	for name, c := range map[string]struct {
		change map[string]any
		text   string
		at     time.Time
	}{
		"not sent on":      {map[string]any{"date_sent": nil}, "wall calf canary-word", testAt.Add(-2 * time.Second)},
		"a picture":        {map[string]any{"body": nil, "sid": "MM00000000000000000000000000000001"}, "", testAt.Add(-time.Second)},
		"one-digit day":    {map[string]any{"date_sent": "Mon, 5 Oct 2026 12:59:57 GMT"}, "wall calf canary-word", testAt.Add(-3 * time.Second)},
		"being received":   {map[string]any{"status": "receiving"}, "wall calf canary-word", testAt.Add(-time.Second)},
		"status to come":   {map[string]any{"status": "new", "new": 1}, "wall calf canary-word", testAt.Add(-time.Second)},
		"from a short one": {map[string]any{"from": "40404"}, "wall calf canary-word", testAt.Add(-time.Second)},
	} {
		t.Run(name, func(t *testing.T) {
			carrier, s, h, _ := collector(t, testAt)
			row := listRow(c.change)
			carrier.FailList(carriertest.Raw(200, "application/json", `{"messages":[`+row+`,`+row+`]}`))
			collect(t, s, h)
			if len(h.got) != 1 || h.gave != 1 || h.got[0].Text != c.text || !h.got[0].At.Equal(c.at) {
				t.Errorf("heard %+v, gave %d", h.got, h.gave)
			}
		})
	}
}

// A list that shows more than it was asked for, or a message twice, gives each
// text to one of our numbers once, even if nobody remembers what was seen.
func TestCollectPicksFromTheList(t *testing.T) {
	carrier, s, h, _ := collector(t, testAt)
	s.cfg.Seen = func(string) bool { return false }
	other := func(change map[string]any) string {
		change["sid"] = "SM00000000000000000000000000000002"
		return listRow(change)
	}
	carrier.FailList(carriertest.Raw(200, "application/json", `{"messages":[`+strings.Join([]string{
		listRow(nil),
		other(map[string]any{"to": "+12025550109"}),
		other(map[string]any{"to": testFrom2}), // on its own number's list, which has it not
		other(map[string]any{"direction": "outbound-reply"}),
		listRow(nil),
	}, ",")+`]}`))
	collect(t, s, h)
	if h.gave != 1 || h.got[0].ID != testSID {
		t.Errorf("gave %d, heard %+v", h.gave, h.got)
	}
}

// A Collect that is called off ends at once, in the middle of a listing and
// between two messages.
func TestCollectCanceled(t *testing.T) {
	carrier, s, h, _ := collector(t, testAt)
	carrier.Receive(testTo, testFrom, "1")
	carrier.Receive(testTo, testFrom, "2")
	carrier.FailList(carriertest.Hang())
	ctx, cancel := context.WithCancel(t.Context())
	carrier.OnList(func(url.Values) { cancel() })
	if err := s.Collect(ctx, h.take); !errors.Is(err, context.Canceled) {
		t.Errorf("listing: %v", err)
	}
	carrier.OnList(nil)
	ctx, cancel = context.WithCancel(t.Context())
	err := s.Collect(ctx, func(ctx context.Context, in Incoming) error {
		cancel()
		return h.take(ctx, in)
	})
	if !errors.Is(err, context.Canceled) || len(h.got) != 1 || !s.Point().Equal(testAt) {
		t.Errorf("between: %v, heard %q up to %s", err, h.texts(), s.Point())
	}
	collect(t, s, h)
	if got := h.texts(); !slices.Equal(got, []string{"1", "2"}) {
		t.Errorf("heard %q", got)
	}
}
