package notify

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"
)

// bounceOf is a notification by RFC 3464 as a common server writes it: plain
// words, the status, and the headers of what came back.
func bounceOf(status, action string) string {
	return strings.NewReplacer("STATUS", status, "ACTION", action).Replace(`Return-Path: <>
Received: by mx.example.net (Server) id 4Xy; Mon, 5 Oct 2026 13:01:00 +0000 (UTC)
Date: Mon, 5 Oct 2026 13:01:00 +0000 (UTC)
From: MAILER-DAEMON@mx.example.net (Mail Delivery System)
Subject: Undelivered Mail Returned to Sender
To: clinic@example.org
Auto-Submitted: auto-replied
MIME-Version: 1.0
Content-Type: multipart/report; report-type=delivery-status;
	boundary="4Xy.1/mx.example.net"
Message-Id: <20261005130100.4Xy@mx.example.net>

This is a MIME-encapsulated message.

--4Xy.1/mx.example.net
Content-Description: Notification
Content-Type: text/plain; charset=us-ascii

I'm sorry to have to inform you that your message could not be delivered.

<pat@example.com>: host mail.example.com said: no

--4Xy.1/mx.example.net
Content-Description: Delivery report
Content-Type: message/delivery-status

Reporting-MTA: dns; mx.example.net
X-Server-Queue-ID: 4Xy
Arrival-Date: Mon,  5 Oct 2026 13:00:58 +0000 (UTC)

Final-Recipient: rfc822; pat@example.com
Original-Recipient: rfc822;pat@example.com
Action: ACTION
Status: STATUS
Remote-MTA: dns; mail.example.com
Diagnostic-Code: smtp; 550 no such user here

--4Xy.1/mx.example.net
Content-Description: Undelivered Message Headers
Content-Type: text/rfc822-headers

Return-Path: <clinic@example.org>
From: "Harbor Foot Clinic" <clinic@example.org>
To: <pat@example.com>
Subject: Your steps for today
Message-ID: <v1.0123456789abcdef@example.org>

--4Xy.1/mx.example.net--
`)
}

// otherBounce is one as other servers write it: the words as HTML with a
// picture, the report in another order and case, the whole mail returned, and
// no null path kept.
const otherBounce = `Delivered-To: clinic@example.org
From: Mail Delivery Subsystem <mailer-daemon@mail.example.net>
To: clinic@example.org
References: <v1.0123456789abcdef@example.org>
In-Reply-To: <v1.0123456789abcdef@example.org>
Subject: Delivery Status Notification (Failure)
Date: Mon, 05 Oct 2026 13:01:00 -0700
Content-Type: multipart/report; boundary="00000000000004"; report-type="Delivery-Status"

--00000000000004
Content-Type: multipart/related; boundary="00000000000005"

--00000000000005
Content-Type: multipart/alternative; boundary="00000000000006"

--00000000000006
Content-Type: text/plain; charset="UTF-8"

** Address not found ** P9

--00000000000006
Content-Type: text/html; charset="UTF-8"

<h1>Address not found</h1>

--00000000000006--
--00000000000005
Content-Type: image/png; name="icon.png"
Content-Transfer-Encoding: base64
Content-ID: <icon.png>

iVBORw0KGgo=

--00000000000005--
--00000000000004
Content-Type: message/delivery-status

reporting-mta: dns; mail.example.net
arrival-date: Mon, 05 Oct 2026 13:01:00 -0700

FINAL-RECIPIENT: rfc822; pat@example.com
ACTION: Failed
STATUS: 5.0.0
Diagnostic-Code: smtp; 550-5.1.1 The account does not exist.
 550 5.1.1 For more information ask pat@example.com
Last-Attempt-Date: Mon, 05 Oct 2026 13:01:00 -0700

--00000000000004
Content-Type: message/rfc822

From: "Harbor Foot Clinic" <clinic@example.org>
To: pat@example.com
Message-ID:
 <v1.0123456789abcdef@example.org>
Subject: Your steps for today
Content-Type: text/plain

Wall calf stretch. Pain 0-10?

--00000000000004--
`

const bouncedID = "v1.0123456789abcdef@example.org"

func TestMailboxBounces(t *testing.T) {
	o := newPostOffice(t, "none", nil)
	o.put(t, bounceOf("5.1.1", "failed"), testAt)
	o.put(t, otherBounce, testAt.Add(time.Minute))
	o.put(t, bounceOf("4.4.1", "delayed"), testAt.Add(2*time.Minute))
	o.put(t, bounceOf("4.4.7", "failed"), testAt.Add(3*time.Minute))
	news := &told{}
	m, h, _ := mailReader(t, o, func(c *MailboxConfig) { c.Tell = news.tell })
	collectMail(t, m, h)
	want := []News{
		{ID: bouncedID, Code: "5.1.1", BadContact: true},
		{ID: bouncedID, Code: "5.1.1", BadContact: true},
		{ID: bouncedID, Code: "4.4.7"},
	}
	if !slices.Equal(news.got, want) || len(h.got) != 0 {
		t.Errorf("told %+v, heard %+v", news.got, h.got)
	}
}

// Classes and details: RFC 3463 sections 3.2 to 3.8; 5.1.10: RFC 7505 section
// 4.2. Actions: RFC 3464 section 2.3.3.
func TestBounceStatus(t *testing.T) {
	for _, c := range []struct {
		status, action string
		told, dead     bool
	}{
		{"5.1.0", "failed", true, true},
		{"5.1.1", "failed", true, true},
		{"5.1.2", "failed", true, true},
		{"5.1.6", "Failed", true, true},
		{"5.1.10", "failed", true, true},
		{"5.2.1", "failed (for good)", true, true},
		{"5.1.1 (no such user)", "failed", true, true},
		{"5.1.5", "failed", true, false},
		{"5.1.7", "failed", true, false},
		{"5.1.8", "failed", true, false},
		{"5.2.2", "failed", true, false},
		{"5.2.10", "failed", true, false},
		{"5.4.4", "failed", true, false},
		{"5.7.1", "failed", true, false},
		{"5.0.0", "failed", true, false},
		{"4.2.2", "failed", true, false},
		{"nonsense", "failed", true, false},
		{"4.2.2", "delayed", false, false},
		{"5.1.1", "delayed", false, false},
		{"2.1.5", "delivered", false, false},
		{"2.1.5", "relayed", false, false},
		{"2.1.5", "expanded", false, false},
		{"5.1.1", "", false, false},
	} {
		got := readLetter([]byte(bounceOf(c.status, c.action)), false).sort()
		switch {
		case got.in != nil:
			t.Errorf("%s %s: taken for a person's", c.action, c.status)
		case (got.news != nil) != c.told:
			t.Errorf("%s %s: %+v", c.action, c.status, got)
		case !c.told && got.reason != "bounce":
			t.Errorf("%s %s: reason %q", c.action, c.status, got.reason)
		case c.told && (got.news.BadContact != c.dead || got.news.Delivered || got.news.ID != bouncedID):
			t.Errorf("%s %s: %+v", c.action, c.status, *got.news)
		}
		if got.news != nil && strings.ContainsAny(got.news.Code, " @()") {
			t.Errorf("code %q is no code", got.news.Code)
		}
	}
}

// Of several recipients, as those an address was passed on to, the first that
// failed counts.
func TestBounceOfSeveral(t *testing.T) {
	status := func(groups ...string) string {
		return "Reporting-MTA: dns; a.example\n\n" + strings.Join(groups, "\n\n")
	}
	one := func(action, code string) string {
		return fmt.Sprintf("Final-Recipient: rfc822; x@example.com\nAction: %s\nStatus: %s", action, code)
	}
	r, ok := failure([]byte(status(one("delivered", "2.0.0"), one("failed", "5.7.1"), one("failed", "5.1.1"))))
	if !ok || r.status != "5.7.1" {
		t.Errorf("%+v, %v", r, ok)
	}
	if r, ok = failure([]byte(status(one("delivered", "2.0.0")))); ok {
		t.Errorf("%+v", r)
	}
	// An address within the words is no code.
	r, _ = failure([]byte(status(one("failed", "5.0.0") + "\nDiagnostic-Code: smtp; 550 5.1.1.7 is on a list")))
	if r.status != "5.0.0" {
		t.Errorf("%+v", r)
	}
}

// A bounce that names no mail of ours, or can't be read, is nobody's answer.
func TestBounceOfNothing(t *testing.T) {
	lost := strings.Replace(bounceOf("5.1.1", "failed"), "Message-ID: <v1.0123456789abcdef@example.org>\n", "", 1)
	for name, raw := range map[string]string{
		"no original":                      lost,
		"no status":                        strings.Replace(bounceOf("5.1.1", "failed"), "message/delivery-status", "text/plain", 1),
		"cut":                              lost[:600],
		"in words":                         "Return-Path: <>\nFrom: postmaster@example.net\nSubject: failure notice\n\nHi. P9\n",
		"in words, as some write the path": "Return-Path: < >\nFrom: postmaster@example.net\n\nP9\n",
	} {
		if got := readLetter([]byte(raw), false).sort(); got.reason != "bounce" {
			t.Errorf("%s: %+v", name, got)
		}
	}
}
