package notify

import (
	"fmt"
	"testing"
	"time"

	"stepgate/notify/carriertest"
)

func TestSMSSettle(t *testing.T) {
	carrier := newCarrier(t)
	s := newTestSMS(t, carrier.URL())
	m := textMessage()
	m.At = time.Now()
	absent := Result{Status: Unknown, Code: CodeAbsent}

	carrier.Fail(carriertest.Cut())
	if r := s.Send(t.Context(), m); r.Status != Unknown {
		t.Fatalf("cut: %+v", r)
	}
	if r := s.Settle(t.Context(), m); r != absent {
		t.Errorf("never taken: %+v", r)
	}
	carrier.Fail(carriertest.Cut().Accepted())
	if r := s.Send(t.Context(), m); r.Status != Unknown {
		t.Fatalf("cut after: %+v", r)
	}
	sid := carrier.Messages()[0].SID
	if r := s.Settle(t.Context(), m); r != (Result{Status: Sent, ID: sid}) {
		t.Errorf("taken: %+v", r)
	}
	if n := len(carrier.Messages()); n != 1 {
		t.Errorf("%d messages at the carrier", n)
	}
}

func TestSMSSettleReadsEveryPage(t *testing.T) {
	carrier := newCarrier(t)
	s := newTestSMS(t, carrier.URL())
	m := textMessage()
	m.At = time.Now()
	want := carrier.Add(carriertest.Message{To: m.To, From: testFrom, Body: m.Text})
	for i := range 2*listPage + 1 {
		carrier.Add(carriertest.Message{To: m.To, From: testFrom, Body: fmt.Sprint("other ", i)})
	}
	if r := s.Settle(t.Context(), m); r != (Result{Status: Sent, ID: want.SID}) {
		t.Errorf("got %+v, want %s", r, want.SID)
	}
	if n := carrier.Gets(); n != 3 {
		t.Errorf("%d pages read, want 3", n)
	}
}

// A list that was not read to its end, or is none, proves nothing.
func TestSMSSettleNeedsAWholeList(t *testing.T) {
	m := textMessage()
	for name, faults := range map[string][]carriertest.Fault{
		"refused":      {carriertest.Refuse(401, 20003)},
		"5xx":          {carriertest.HTML(503, 20_000)},
		"cut":          {carriertest.Cut()},
		"answer cut":   {carriertest.CutAnswer(200)},
		"empty object": {carriertest.Raw(200, "application/json", `{}`)},
		"redirect":     {carriertest.Raw(307, "application/json", `{"messages":[]}`)},
		"bad next":     {carriertest.Raw(200, "application/json", `{"messages":[],"next_page_uri":"/x"}`)},
		"second page": {
			carriertest.Raw(200, "application/json", `{"messages":[],"next_page_uri":"/x?Page=1&PageToken=PA1"}`),
			carriertest.Refuse(500, 20500),
		},
	} {
		t.Run(name, func(t *testing.T) {
			carrier := newCarrier(t)
			s := newTestSMS(t, carrier.URL())
			carrier.FailList(faults...)
			if r := s.Settle(t.Context(), m); r != (Result{Status: Unknown, Code: CodeListing}) {
				t.Errorf("got %+v", r)
			}
		})
	}
}

func TestSMSSettleTakesNoOther(t *testing.T) {
	m := textMessage()
	m.At = time.Now()
	same := carriertest.Message{To: m.To, From: testFrom, Body: m.Text}
	for name, change := range map[string]func(*carriertest.Message){
		"body":          func(c *carriertest.Message) { c.Body += " " },
		"recipient":     func(c *carriertest.Message) { c.To = "+12025550124" },
		"sender":        func(c *carriertest.Message) { c.From = "+12025550101" },
		"made before":   func(c *carriertest.Message) { c.Created = m.At.Add(-25 * time.Hour) },
		"owned already": func(c *carriertest.Message) { c.Status = "delivered" },
	} {
		t.Run(name, func(t *testing.T) {
			carrier := newCarrier(t)
			s := newTestSMS(t, carrier.URL())
			other := same
			change(&other)
			other = carrier.Add(other)
			if name == "owned already" {
				s.cfg.Owned = func(id string) bool { return id == other.SID }
			}
			if r := s.Settle(t.Context(), m); r != (Result{Status: Unknown, Code: CodeAbsent}) {
				t.Errorf("got %+v", r)
			}
		})
	}
	// Two of the same words: the older is the one an earlier try made.
	carrier := newCarrier(t)
	s := newTestSMS(t, carrier.URL())
	first := carrier.Add(same)
	carrier.Add(same)
	if r := s.Settle(t.Context(), m); r != (Result{Status: Sent, ID: first.SID}) {
		t.Errorf("two alike: %+v", r)
	}
}

// Which of our numbers sends may have been changed since the try.
func TestSMSSettleFindsAnyNumberOfOurs(t *testing.T) {
	for name, c := range map[string]struct{ listed, named string }{
		"the first":           {testFrom, ""},
		"the second":          {testFrom2, ""},
		"not the one named":   {testFrom, testFrom2},
		"named, ours no more": {"+12025550102", "+12025550102"},
	} {
		carrier := newCarrier(t)
		s := newTestSMS(t, carrier.URL())
		s.cfg.Numbers = append(s.cfg.Numbers, testFrom2)
		m := textMessage()
		m.From = c.named
		on := carrier.Add(carriertest.Message{To: m.To, From: c.listed, Body: m.Text})
		if r := s.Settle(t.Context(), m); r != (Result{Status: Sent, ID: on.SID}) {
			t.Errorf("%s: %+v", name, r)
		}
	}
}

func TestSMSSettleFindsAFailedOne(t *testing.T) {
	carrier := newCarrier(t)
	s := newTestSMS(t, carrier.URL())
	m := textMessage()
	m.At = time.Now()
	c := carrier.Add(carriertest.Message{To: m.To, From: testFrom, Body: m.Text, Status: "failed"})
	if r := s.Settle(t.Context(), m); r != (Result{Status: Rejected, ID: c.SID, Code: "failed"}) {
		t.Errorf("got %+v", r)
	}
}
