package notify

import (
	"slices"
	"strings"
	"testing"
)

// person is a mail of a person's with a field added, or in the place of its
// own.
func withField(field string) string {
	name, _, _ := strings.Cut(field, ":")
	mail := letterFrom("one", "D P3")
	if i := strings.Index(mail, "\n"+name+":"); i >= 0 {
		end := i + 1 + strings.Index(mail[i+1:], "\n")
		return mail[:i+1] + field + mail[end:]
	}
	return field + "\n" + mail
}

// Automatic answers: RFC 3834 section 5. Lists: RFC 2919. Precedence: RFC 3834
// section 2 names it as in use. Reports: RFC 6522.
func TestTriage(t *testing.T) {
	for _, c := range []struct{ field, reason string }{
		{"X-Nothing: at all", ""},
		{"Auto-Submitted: no", ""},
		{"Auto-Submitted: No ; a=b", ""},
		{"Precedence: first-class", ""},
		{"X-Auto-Response-Suppress: All", ""}, // asks others not to answer
		{"Subject: Out of office", ""},        // words are not looked at
		{"Auto-Submitted: auto-replied", "automatic"},
		{"Auto-Submitted: auto-generated (by the calendar)", "automatic"},
		{"auto-submitted: AUTO-REPLIED; owner-email=\"x@example.com\"", "automatic"},
		{"Auto-Submitted:", "automatic"},
		{"Precedence: bulk", "bulk"},
		{"Precedence: Junk", "bulk"},
		{"Precedence: list", "bulk"},
		{"List-Id: News <news.example.com>", "list"},
		{"Return-Path: <>", "bounce"},
		{"From: nobody", "sender"},
		{"From: a@example.com\nFrom: b@example.com", "sender"},
		{"Content-Type: multipart/report; report-type=disposition-notification; boundary=x", "receipt"},
		{"Content-Type: multipart/report; report-type=feedback-report; boundary=x", "report"},
	} {
		got := readLetter([]byte(withField(c.field)), false).sort()
		if got.reason != c.reason || (got.in != nil) != (c.reason == "") || got.news != nil {
			t.Errorf("%s: %+v", c.field, got)
		}
	}
	mail := readLetter([]byte(strings.Replace(letterFrom("one", "P3"), "From: ", "X-From: ", 1)), false)
	if got := mail.sort(); got.reason != "sender" {
		t.Errorf("no From: %+v", got)
	}
}

// vacation is an automatic answer by RFC 3834.
const vacation = `Return-Path: <>
From: Pat <pat@example.com>
To: clinic@example.org
Subject: Auto: Your steps for today
Auto-Submitted: auto-replied (vacation)
In-Reply-To: <v1.aa@example.org>
Message-ID: <away@mail.example.com>

I am away until 10 October. Pain 8 emails a day!
`

// receipt is a reading receipt by RFC 8098.
const receipt = `Return-Path: <>
From: pat@example.com
To: clinic@example.org
Subject: Read: Your steps for today
Message-ID: <read@mail.example.com>
MIME-Version: 1.0
Content-Type: multipart/report; report-type=disposition-notification; boundary="r"

--r
Content-Type: text/plain

Your message was read. P9

--r
Content-Type: message/disposition-notification

Final-Recipient: rfc822;pat@example.com
Original-Message-ID: <v1.aa@example.org>
Disposition: manual-action/MDN-sent-manually; displayed

--r--
`

func TestTriageWholeMails(t *testing.T) {
	for raw, reason := range map[string]string{vacation: "automatic", receipt: "receipt"} {
		if got := readLetter([]byte(raw), false).sort(); got.reason != reason {
			t.Errorf("%+v, want %s", got, reason)
		}
	}
}

func TestSender(t *testing.T) {
	for value, want := range map[string]string{
		"pat@example.com":                          "pat@example.com",
		"Pat <PAT@Example.COM>":                    "pat@example.com",
		`"pat@example.com" <sam@example.net>`:      "sam@example.net", // the name says another
		"=?ISO-8859-1?Q?P=E4t?= <pat@example.com>": "pat@example.com",
		"=?x-unknown?Q?P=E4t?= <pat@example.com>":  "pat@example.com",
		"Pat Doe, Jr. <pat@example.com>":           "pat@example.com", // not well formed
		"a@example.com, b@example.com":             "a@example.com",
		"Pat\r\n <pat@example.com>":                "pat@example.com",
		"undisclosed":                              "",
		"":                                         "",
		"<>":                                       "",
		"Pat <" + strings.Repeat("x", 250) + "@e.example>": "",
	} {
		l := readLetter([]byte("From: "+value+"\r\n\r\n"), false)
		if got, ok := l.from(); got != want || ok != (want != "") {
			t.Errorf("%q: %q, %v", value, got, ok)
		}
	}
}

func TestAnswers(t *testing.T) {
	l := readLetter([]byte("In-Reply-To: <b@x.example> (yours)\nReferences: <a@x.example>\n <b@x.example>\n\t<c@x.example>\n\n"), false)
	if got := l.answers(); !slices.Equal(got, []string{"b@x.example", "c@x.example", "a@x.example"}) {
		t.Errorf("%q", got)
	}
	l = readLetter([]byte("In-Reply-To: your letter of Monday\nReferences: "+strings.Repeat("<a@x.example> ", 500)+"\n\n"), false)
	if got := l.answers(); !slices.Equal(got, []string{"a@x.example"}) {
		t.Errorf("%q", got)
	}
	l = readLetter([]byte("Message-ID: no id\n\n"), false)
	if got := l.messageID(); got != "" {
		t.Errorf("%q", got)
	}
}

// Lines that are no header fields are left out, and cost nothing else.
func TestHeaderThatIsNotWellFormed(t *testing.T) {
	raw := " folded from nowhere\nFrom pat Mon Oct  5 13:00:00 2026\nno colon here\n and its second line\n" +
		"Bad name: x\nFrom : pat@example.com\nSubject: one\n two\n\nP3\n"
	l := readLetter([]byte(raw), false)
	from, _ := l.from()
	if from != testMail || l.text("Subject") != "one two" || string(l.body) != "P3\n" {
		t.Errorf("from %q, subject %q, body %q", from, l.text("Subject"), l.body)
	}
	for _, raw := range []string{"", "\n", "P3", "\r\n\r\n", ":\n:\n"} {
		if got := readLetter([]byte(raw), false).sort(); got.reason != "sender" {
			t.Errorf("%q: %+v", raw, got)
		}
	}
}

// A second copy of a long mail is the same too, though less of it was fetched.
func TestCopyOfLongMail(t *testing.T) {
	mail := letterFrom("one", strings.Repeat("on and on\n", maxMail/8))
	copied := "Received: from " + strings.Repeat("a.example ", 99) + "\n" + mail
	first, second := readLetter([]byte(mail[:maxMail]), true), readLetter([]byte(copied[:maxMail]), true)
	if first.id != second.id || !second.cut {
		t.Errorf("ids %s and %s", first.id, second.id)
	}
}
