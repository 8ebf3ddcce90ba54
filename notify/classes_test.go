package notify

import (
	"os"
	"path/filepath"
	"testing"

	emersion "github.com/emersion/go-smtp"

	"stepgate/notify/carriertest"
)

// What a hand-over can come to, whatever the sender.
const (
	isSent     = "sent"
	isRetry    = "retry"
	isLater    = "retry, not before"
	isContact  = "bad contact"
	isOptedOut = "opted out"
	isContent  = "refused for what it says"
	isAccount  = "our account or server setup is in trouble"
	isCut      = "cut off"
	isNew      = "an answer nobody knows"
)

var allClasses = map[string]func(Result) bool{
	isSent:     func(r Result) bool { return r.Status == Sent && r.ID != "" },
	isRetry:    func(r Result) bool { return r.Status == Retry && r.After == 0 && !r.Trouble },
	isLater:    func(r Result) bool { return r.Status == Retry && r.After > 0 },
	isContact:  func(r Result) bool { return r.Status == Rejected && r.BadContact && !r.OptedOut },
	isOptedOut: func(r Result) bool { return r.Status == Rejected && r.OptedOut && !r.BadContact },
	isContent:  func(r Result) bool { return r.Status == Rejected && !r.OptedOut && !r.BadContact },
	isAccount:  func(r Result) bool { return r.Status == Retry && r.Trouble },
	isCut:      func(r Result) bool { return r.Status == Unknown },
	isNew:      func(r Result) bool { return r.Status == Unknown },
}

// never says which classes a sender can't come to, and why.
var never = map[string]map[string]string{
	"spool": {
		isLater:    "a disk says no time",
		isOptedOut: "a folder does not opt out",
		isContent:  "a file takes any text",
		isAccount:  "there is no account",
		isNew:      "there is nobody to answer",
	},
	"sms": {},
	"email": {
		isLater:    "SMTP has no way to name a time",
		isOptedOut: "SMTP has no opt-out",
	},
}

// classRun is one hand-over under one condition.
type classRun struct {
	sender string
	class  string
	name   string
	do     func(t *testing.T, m Message) Result
}

func smsRun(class, name string, faults ...carriertest.Fault) classRun {
	return classRun{"sms", class, name, func(t *testing.T, m Message) Result {
		carrier := newCarrier(t)
		s := newTestSMS(t, carrier.URL())
		carrier.Fail(faults...)
		return s.Send(t.Context(), m)
	}}
}

func emailRun(class, name string, p *postbox) classRun {
	return classRun{"email", class, name, func(t *testing.T, m Message) Result {
		p.start(t, nil)
		m.To, m.Subject = testMail, "Today"
		return newTestEmail(t, p.port).Send(t.Context(), m)
	}}
}

func spoolRun(class, name string, do func(t *testing.T, dir string, s *Spool, m Message) Result) classRun {
	return classRun{"spool", class, name, func(t *testing.T, m Message) Result {
		dir := t.TempDir()
		m.To = "pat"
		return do(t, dir, NewSpool(dir, SpoolOptions{}), m)
	}}
}

func smtpError(code int, a, b, c int) error {
	// The answer repeats what a server repeats.
	return &emersion.SMTPError{Code: code, EnhancedCode: emersion.EnhancedCode{a, b, c},
		Message: "<" + testMail + "> " + textMessage().Text}
}

func classRuns() []classRun {
	return []classRun{
		spoolRun(isSent, "written", func(t *testing.T, _ string, s *Spool, m Message) Result {
			return s.Send(t.Context(), m)
		}),
		spoolRun(isRetry, "disk trouble", func(t *testing.T, dir string, s *Spool, m Message) Result {
			block(t, dir, m.To)
			return s.Send(t.Context(), m)
		}),
		spoolRun(isRetry, "absent", func(t *testing.T, _ string, s *Spool, m Message) Result {
			return s.Settle(t.Context(), m)
		}),
		spoolRun(isContact, "unsafe name", func(t *testing.T, _ string, s *Spool, m Message) Result {
			m.To = "../" + testTo
			return s.Send(t.Context(), m)
		}),
		spoolRun(isCut, "settled with disk trouble", func(t *testing.T, dir string, s *Spool, m Message) Result {
			block(t, dir, m.To)
			return s.Settle(t.Context(), m)
		}),

		smsRun(isSent, "queued"),
		smsRun(isRetry, "too many", carriertest.TooMany("")),
		smsRun(isLater, "too many, in 5 s", carriertest.TooMany("5")),
		smsRun(isLater, "daily cap", carriertest.Refuse(400, 30023)),
		smsRun(isContact, "landline", carriertest.Refuse(400, 21614)),
		smsRun(isOptedOut, "STOP", carriertest.Refuse(400, 21610)),
		smsRun(isContent, "filtered", carriertest.Refuse(400, 30007)),
		smsRun(isAccount, "not registered", carriertest.Refuse(400, 30034)),
		smsRun(isCut, "cut", carriertest.Cut()),
		smsRun(isCut, "taken, then 5xx", carriertest.HTML(500, 1<<20).Accepted()),
		smsRun(isNew, "unknown code", carriertest.Refuse(400, 29999)),
		smsRun(isNew, "phone number for a code", carriertest.Raw(400, "application/json", `{"code":`+testTo[1:]+`,"message":"`+testTo+`"}`)),
		smsRun(isNew, "phone number for an id", carriertest.Raw(201, "application/json", `{"sid":"`+testTo+`"}`)),
		{"sms", isCut, "not on the list", func(t *testing.T, m Message) Result {
			return newTestSMS(t, newCarrier(t).URL()).Settle(t.Context(), m)
		}},
		{"sms", isRetry, "unreachable", func(t *testing.T, m Message) Result {
			l := listen(t)
			s := newTestSMS(t, "http://"+l.Addr().String())
			l.Close()
			return s.Send(t.Context(), m)
		}},

		emailRun(isSent, "taken", &postbox{}),
		emailRun(isRetry, "greylisted", &postbox{rcptErr: smtpError(450, 4, 7, 1)}),
		emailRun(isContact, "nobody there", &postbox{rcptErr: smtpError(550, 5, 1, 1)}),
		emailRun(isContent, "spam", &postbox{data: func(*emersion.Conn, []byte) error { return smtpError(554, 5, 7, 1) }}),
		emailRun(isAccount, "log in first", &postbox{mailErr: smtpError(530, 5, 7, 0)}),
		emailRun(isCut, "cut", &postbox{data: func(c *emersion.Conn, _ []byte) error { return c.Conn().Close() }}),
		{"email", isNew, "no SMTP answer", func(t *testing.T, m Message) Result {
			m.To = testMail
			port := script(t, "220 hi", "250 hi", "250 ok", "250 ok", "354 go", "HTTP/1.1 400 "+testMail)
			return newTestEmail(t, port).Send(t.Context(), m)
		}},
	}
}

// block puts a file where a contact's folder should be.
func block(t *testing.T, dir, contact string) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(dir, contact), nil, 0o600); err != nil {
		t.Fatal(err)
	}
}

func TestEveryClassOfEverySender(t *testing.T) {
	covered := map[[2]string]bool{}
	for _, run := range classRuns() {
		covered[[2]string{run.sender, run.class}] = true
		t.Run(run.sender+"/"+run.name, func(t *testing.T) {
			if r := run.do(t, textMessage()); !allClasses[run.class](r) {
				t.Errorf("got %+v, want %s", r, run.class)
			}
		})
	}
	for sender, not := range never {
		for class := range allClasses {
			_, excused := not[class]
			if has := covered[[2]string{sender, class}]; has == excused {
				t.Errorf("%s: %s is covered %v and excused %v", sender, class, has, excused)
			}
		}
	}
}
