package notify

import (
	"context"
	"net/http"
	"net/http/httptest"
	"slices"
	"strconv"
	"testing"
	"time"

	"stepgate/notify/carriertest"
)

// codeRow is what a code of the carrier's means when it refuses a create, and
// when it is the reason why a message that was taken did not arrive.
type codeRow struct {
	codes   []int
	refused Result // but for its Code
	news    News   // but for its ID and Code
}

// codeRows has every code that we know: the carrier's published error and
// warning list. 5xx and unknown codes have their rows in TestSMSFaults.
var codeRows = map[string]codeRow{
	"again": {[]int{20429, 21611}, Result{Status: Retry, Busy: true}, News{}},
	"later": {[]int{30001, 30003, 30008, 30017, 30022, 30023, 30027, 30450, 14107},
		Result{Status: Retry, After: laterWait}, News{}},
	"opted out": {[]int{21610}, Result{Status: Rejected, OptedOut: true}, News{OptedOut: true}},
	"bad contact": {[]int{21211, 21614, 30005, 30006, 21612},
		Result{Status: Rejected, BadContact: true}, News{BadContact: true}},
	"content": {[]int{30004, 30007, 21617, 21602}, Result{Status: Rejected}, News{}},
	"sender trouble": {[]int{20003, 30002, 21408, 21606, 21212, 30032, 30034, 30035, 21703},
		Result{Status: Retry, Trouble: true}, News{Trouble: true}},
	"unclear": {[]int{20500, 20503, 30410}, Result{Status: Unknown}, News{}},
}

func TestCarrierCodes(t *testing.T) {
	var listed []int
	for name, row := range codeRows {
		listed = append(listed, row.codes...)
		t.Run(name, func(t *testing.T) {
			for _, code := range row.codes {
				checkCode(t, row, code)
			}
		})
	}
	for code := range carrierCodes {
		if !slices.Contains(listed, code) {
			t.Errorf("%d has no row", code)
		}
	}
	if len(listed) != len(carrierCodes) {
		t.Errorf("%d codes have rows, the table has %d", len(listed), len(carrierCodes))
	}
}

func checkCode(t *testing.T, row codeRow, code int) {
	t.Helper()
	carrier := newCarrier(t)
	s := newTestSMS(t, carrier.URL())
	want := row.refused
	want.Code = strconv.Itoa(code)
	carrier.Fail(carriertest.Refuse(400, code), carriertest.Refuse(503, code))
	if got := s.Send(t.Context(), textMessage()); got != want {
		t.Errorf("%d: got %+v, want %+v", code, got, want)
	}
	// The same code under a 5xx is no definite no.
	if got := s.Send(t.Context(), textMessage()); got.Status != Unknown {
		t.Errorf("%d under 503: got %+v, want unknown", code, got)
	}

	m := textMessage()
	c := carrier.Add(carriertest.Message{To: m.To, From: testFrom, Body: m.Text, Status: "failed", ErrorCode: code})
	news := row.news
	news.ID, news.Code = c.SID, want.Code
	onRecord := Result{Status: Rejected, ID: c.SID, Code: want.Code,
		BadContact: news.BadContact, OptedOut: news.OptedOut, Trouble: news.Trouble}
	if got := s.Settle(t.Context(), m); got != onRecord {
		t.Errorf("%d on record: got %+v, want %+v", code, got, onRecord)
	}
	if got := toldBy(t, s); !slices.Equal(got, []News{news}) {
		t.Errorf("%d by the list: got %+v, want %+v", code, got, news)
	}
	if got, status := toldByHook(carrier, s, c, "failed"); status != 200 || !slices.Equal(got, []News{news}) {
		t.Errorf("%d by the hook: %d, %+v, want %+v", code, status, got, news)
	}
}

// toldBy is all the news that the list has.
func toldBy(t *testing.T, s *SMS) []News {
	t.Helper()
	var got []News
	if err := s.News(t.Context(), time.Time{}, func(_ context.Context, n News) error {
		got = append(got, n)
		return nil
	}); err != nil {
		t.Error(err)
	}
	return got
}

// toldByHook is the news of one callback, and how it was answered.
func toldByHook(carrier *carriertest.Server, s *SMS, m carriertest.Message, status string) ([]News, int) {
	var got []News
	h := s.StatusHook(testPublic, func(_ context.Context, n News) error {
		got = append(got, n)
		return nil
	}, nil)
	w := httptest.NewRecorder()
	h.ServeHTTP(w, hookRequest(carrier.Status(m, status), nil))
	return got, w.Code
}

// Every status of the carrier's published enum, and what it says of a message
// of ours. One that nobody knows leaves the end open.
func TestCarrierStatuses(t *testing.T) {
	want := map[string]string{
		"queued": "open", "sending": "open", "sent": "open", "failed": "lost", "delivered": "arrived",
		"undelivered": "lost", "receiving": "open", "received": "open", "accepted": "open",
		"scheduled": "open", "read": "arrived", "partially_delivered": "open", "canceled": "lost",
	}
	for status := range carrierStatuses {
		if want[status] == "" {
			t.Errorf("%s is not in the enum", status)
		}
	}
	for status := range want {
		if _, ok := carrierStatuses[status]; !ok {
			t.Errorf("%s is not in the table", status)
		}
	}
	want["a new one"] = "open"
	for status, fate := range want {
		t.Run(status, func(t *testing.T) {
			carrier := newCarrier(t)
			s := newTestSMS(t, carrier.URL())
			m := textMessage()
			c := carrier.Add(carriertest.Message{To: m.To, From: testFrom, Body: m.Text, Status: status})
			var news []News
			record := Result{Status: Sent, ID: c.SID}
			switch fate {
			case "arrived":
				news = []News{{ID: c.SID, Delivered: true, Code: status}}
			case "lost":
				news = []News{{ID: c.SID, Code: status}}
				record.Status, record.Code = Rejected, status
			}
			if got := s.Settle(t.Context(), m); got != record {
				t.Errorf("on record: %+v, want %+v", got, record)
			}
			if got := toldBy(t, s); !slices.Equal(got, news) {
				t.Errorf("by the list: %+v, want %+v", got, news)
			}
			if got, code := toldByHook(carrier, s, c, status); code != http.StatusOK || !slices.Equal(got, news) {
				t.Errorf("by the hook: %d, %+v, want %+v", code, got, news)
			}
		})
	}
}

// The carrier's published default words, each only as the whole text. "opt
// out" with a blank is a word of 47 CFR 64.1200(a)(10) and none of the
// carrier's; HELP is answered by the carrier, but not with what it is asked for.
func TestConfirms(t *testing.T) {
	s := newTestSMS(t, "")
	for _, text := range []string{
		"STOP", "STOPALL", "UNSUBSCRIBE", "CANCEL", "END", "QUIT", "REVOKE", "OPTOUT",
		"START", "YES", "UNSTOP", "stop", "Stop", " stop\n",
	} {
		if !s.Confirms(text) {
			t.Errorf("%q: not confirmed", text)
		}
	}
	for _, text := range []string{
		"", "opt out", "stop please", "please stop", "STOP.", "alto", "arret", "HELP", "INFO", "D P3", "had to stop, pain 7",
	} {
		if s.Confirms(text) {
			t.Errorf("%q: confirmed", text)
		}
	}
}

func TestExplain(t *testing.T) {
	for code, want := range map[string]string{
		"30003": "Carrier code 30003: the phone is off or out of reach.", "29999": "Carrier code 29999.",
		"http-404": "Code http-404.", "550": "Code 550.", "dns": "The carrier cannot be reached: its name is not found.",
	} {
		if got := Explain(code); got != want {
			t.Errorf("%s: %q, want %q", code, got, want)
		}
	}
	for code, m := range carrierCodes {
		if m.words == "" {
			t.Errorf("%d has no words", code)
		}
	}
}
