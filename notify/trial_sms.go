package notify

import (
	"context"
	"fmt"
	"net/http"
	"strconv"
	"time"

	openapi "github.com/twilio/twilio-go/rest/api/v2010"
)

// Trial asks the carrier for the account, sends one text as Send does, and
// watches for at most wait what becomes of it. It tells each step, and returns
// whether the text was taken and not lost since. Nothing is sent twice.
func (s *SMS) Trial(ctx context.Context, m Message, wait time.Duration, tell func(TrialStep)) bool {
	t := newTrial("sms", "account", trialLimit, func() {}, tell) // each call has its own end
	defer t.late.Stop()
	if r := s.tryAccount(ctx); r.Code != "" {
		t.failed(smsTrouble(r))
		return false
	}
	t.did("account and token accepted; texts come from "+s.cfg.Numbers[0], "text", trialLimit)
	r := s.Send(ctx, m)
	if r.Status != Sent {
		t.failed(smsTrouble(r))
		return false
	}
	t.did("taken, as "+r.ID, "delivery", trialLimit)
	status, code, err := s.watch(ctx, m.To, r.ID, wait)
	words, ok := becameOf(status, code, wait)
	if status == "" && err != nil {
		words, ok = "The carrier's list of messages, where answers and deliveries are read, can't be read. Try again in a few minutes.", false
	}
	t.over(ok, words)
	return ok
}

// tryAccount asks for the newest message from the number that sends, which
// takes account and token, and costs nothing. No code: it was answered.
func (s *SMS) tryAccount(ctx context.Context) Result {
	ctx, cancel := context.WithTimeout(ctx, s.cfg.Timeout)
	defer cancel()
	x := s.exchange(ctx)
	params := (&openapi.ListMessageParams{}).SetFrom(s.cfg.Numbers[0]).SetPageSize(1)
	list, err := x.service(s.cfg.Account, s.cfg.Token).PageMessage(params, "", "")
	switch {
	case err != nil:
		r := x.outcome(err)
		r.Status = Retry // nothing was sent yet
		return r
	case x.status != http.StatusOK || list.Messages == nil:
		return Result{Status: Retry, Code: codeWord(x.status, 0)}
	}
	return Result{}
}

// watchPage is how many of the newest texts to the number are looked at.
const watchPage = 20

// watch looks on the carrier's list, at once and then every two seconds or
// oftener, until the text's end is known or the time is over. It gives the
// last status that was read, with the carrier's code or 0.
func (s *SMS) watch(ctx context.Context, to, id string, wait time.Duration) (status string, code int, err error) {
	over := time.NewTimer(wait)
	defer over.Stop()
	again := time.NewTicker(max(min(2*time.Second, wait/15), time.Millisecond))
	defer again.Stop()
	for {
		params := (&openapi.ListMessageParams{}).SetTo(to).SetPageSize(watchPage)
		var list *openapi.ListMessageResponse
		if list, err = s.page(ctx, params, "", ""); err == nil {
			for i := range list.Messages {
				if row := &list.Messages[i]; value(row.Sid) == id {
					status, code = value(row.Status), value(row.ErrorCode)
				}
			}
		}
		if carrierStatuses[status] != open {
			return status, code, nil
		}
		select {
		case <-again.C:
		case <-over.C:
			return status, code, err
		case <-ctx.Done():
			return status, code, err
		}
	}
}

// becameOf says what a status means. A text that is on its way is no failure;
// the words say that it is not confirmed.
func becameOf(status string, code int, wait time.Duration) (words string, ok bool) {
	switch carrierStatuses[status] {
	case arrived:
		return "delivered", true
	case lost:
		n, _ := news("", status, code)
		if n.Code == status {
			return "It was not delivered, and the carrier gives no code. Ask the carrier.", false
		}
		return "It was not delivered. " + smsTrouble(Result{Status: Rejected, Code: n.Code}), false
	}
	after := " after " + wait.String() + "; look at the phone"
	switch status {
	case "":
		return "not on the carrier's list yet" + after, true
	case "sent":
		return "sent to the phone's network, not confirmed" + after, true
	case "accepted", "scheduled", "queued", "sending":
		return "waiting at the carrier (" + status + ")" + after, true
	}
	return "its end is not known" + after, true
}

// smsTrouble says why the carrier did not take a text, or lost it, and what to
// do about it.
func smsTrouble(r Result) string {
	code, _ := strconv.Atoi(r.Code)
	do, special := smsRemedies[code]
	switch {
	case special:
	case r.Code == "contact":
		return "This is no phone number. Write it with + and the country code, like +12025550123."
	case r.Code == "canceled" && r.Status != Unknown:
		return "Stopped before it was over."
	case r.Code == "canceled":
		return "Stopped while the text was handed over: look at the phone before you try again."
	case r.Code == "http-401", r.Code == "http-403", r.Code == "http-404":
		return fmt.Sprintf("The carrier does not let us in (%s). Look at account:, token: and api: under sms:.", r.Code)
	case r.Status == Unknown:
		do = "Nobody can tell whether the text was taken: look at the phone before you try again."
	case r.Unreachable:
		do = "Look at this machine's connection, and at api: under sms: if you set it."
	case code == 0:
		do = "Try again in a few minutes."
	default:
		do = classRemedies[carrierCodes[code].class]
	}
	return Explain(r.Code) + " " + do
}

// smsRemedies are for codes that have one of their own.
var smsRemedies = map[int]string{
	20003: "Look at account: and token: under sms:.",
	21606: "Look at from: or numbers: under sms:, and at the account's numbers in the carrier's console.",
	21212: "Look at from: or numbers: under sms:.",
	21408: "Switch the country on in the carrier's console.",
	21610: "Text START from that phone to the clinic's number first.",
	30032: "Have the number verified in the carrier's console; until then no text arrives.",
	30034: "Register the number in the carrier's console; until then no text arrives.",
	30035: "Wait for the registration to end, or look at it in the carrier's console.",
}

var classRemedies = map[class]string{
	unclear:  "Ask the carrier what the code means.",
	again:    "Try again in a few minutes.",
	later:    "Try again later, or with another phone.",
	contact:  "Look at the number you gave.",
	optedOut: "Text START from that phone to the clinic's number first.",
	content:  "Ask the carrier why; patients' texts may be stopped the same way.",
	sender:   "Put it right in the carrier's console; until then no text goes out.",
}
