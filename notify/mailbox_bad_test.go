package notify

import (
	"bytes"
	"encoding/base64"
	"log/slog"
	"slices"
	"strings"
	"testing"
	"time"
)

// What comes to a mailbox that nobody asked for, each with its outcome, by a
// real server.
func TestMailboxBadInput(t *testing.T) {
	text64 := base64.StdEncoding.EncodeToString([]byte("D P3, mañana más"))
	for name, c := range map[string]struct {
		raw, text, reason string
	}{
		"attachment only":   {raw: multipartMail("mixed", "Content-Type: application/pdf\nContent-Disposition: attachment\n\nP9")},
		"HTML only":         {raw: mimeMail("Content-Type: text/html", "<p>D P3</p><blockquote>9</blockquote>"), text: "D P3"},
		"base64":            {raw: mimeMail("Content-Type: text/plain; charset=utf-8\nContent-Transfer-Encoding: base64", text64), text: "D P3, mañana más"},
		"ISO-8859-1":        {raw: mimeMail("Content-Type: text/plain; charset=ISO-8859-1", "ma\xf1ana"), text: "mañana"},
		"UTF-8":             {raw: mimeMail("Content-Type: text/plain; charset=UTF-8", "mañana"), text: "mañana"},
		"UTF-8 in a header": {raw: strings.Replace(letterFrom("x", "P3"), "Pat <", "Pät <", 1), text: "P3"},
		"reading receipt":   {raw: receipt, reason: "receipt"},
		"vacation":          {raw: vacation, reason: "automatic"},
		"hard bounce":       {raw: bounceOf("5.1.1", "failed")},
		"soft bounce":       {raw: bounceOf("4.2.2", "delayed"), reason: "bounce"},
		"our own mail":      {raw: "From: clinic@example.org\nAuto-Submitted: auto-generated\nSubject: Your steps\n\nP9", reason: "automatic"},
	} {
		t.Run(name, func(t *testing.T) {
			o := newPostOffice(t, "none", nil)
			o.put(t, c.raw, testAt)
			var logs bytes.Buffer
			news := &told{}
			m, h, _ := mailReader(t, o, func(cfg *MailboxConfig) {
				cfg.Log, cfg.Tell = slog.New(slog.NewTextHandler(&logs, nil)), news.tell
			})
			for range 2 {
				collectMail(t, m, h)
			}
			var want []string
			if c.reason == "" && name != "hard bounce" {
				want = []string{c.text}
			}
			if got := h.texts(); !slices.Equal(got, want) || h.gave != len(want) {
				t.Errorf("heard %q in %d, want %q", got, h.gave, want)
			}
			if n := strings.Count(logs.String(), "msg=mail.ignored reason="+c.reason+" id=mail-"); c.reason != "" && n != 1 ||
				c.reason == "" && logs.Len() > 0 {
				t.Errorf("log %q", logs.String())
			}
			if (len(news.got) == 1) != (name == "hard bounce") {
				t.Errorf("told %+v", news.got)
			}
		})
	}
}

// A reply of 20 MB: its text is read, its pictures stay where they are. With
// the pictures first the text is out of reach, and the mail has none.
func TestMailboxHugeReply(t *testing.T) {
	o, m, h, _ := office(t)
	line := strings.Repeat("QUFB", 19) + "\n"
	picture := "Content-Type: image/jpeg\nContent-Transfer-Encoding: base64\n\n" + strings.Repeat(line, 20<<20/len(line))
	o.put(t, multipartMail("mixed", "Content-Type: text/plain\n\nP3", picture), testAt)
	o.put(t, multipartMail("mixed", picture, "Content-Type: text/plain\n\nP4"), testAt.Add(time.Minute))
	o.put(t, mimeMail("X: y", "P5 "+strings.Repeat("on and on ", 2<<20)), testAt.Add(2*time.Minute))
	o.put(t, letterFrom("x", "P6"), testAt.Add(3*time.Minute))
	collectMail(t, m, h)
	got := h.texts()
	if len(got) != 4 || got[0] != "P3" || got[1] != "" || !strings.HasPrefix(got[2], "P5 on") || len(got[2]) > maxReply || got[3] != "P6" {
		t.Errorf("heard %d", len(got))
	}
	if said := o.said.Load(); said > 4*maxMail {
		t.Errorf("%d bytes came over the line", said)
	}
	first := slices.Collect(slices.Values(h.got))
	collectMail(t, m, h)
	if len(h.got) != len(first) || h.gave != 4 {
		t.Errorf("gave %d", h.gave)
	}
}

// Whoever writes a patient's address into From is passed on as the patient: a
// receiver can't know better by the mail alone. What a reply can show is that
// it knows the Message-ID it answers.
func TestMailboxForgedFrom(t *testing.T) {
	o, m, h, _ := office(t)
	o.put(t, "Received: from elsewhere.example ([192.0.2.9])\nReturn-Path: <eve@example.net>\n"+
		"From: \"Pat\" <PAT@example.com>\nSender: eve@example.net\nReply-To: eve@example.net\nSubject: D P0\n\nD P0\n", testAt)
	collectMail(t, m, h)
	if len(h.got) != 1 || h.got[0].From != testMail || len(h.got[0].Answers) != 0 {
		t.Errorf("heard %+v", h.got)
	}
}

// A reply to last week's mail says which it answers; what that means is not
// decided here.
func TestMailboxReplyToLastWeek(t *testing.T) {
	o, m, h, _ := office(t)
	mail := strings.Replace(letterFrom("x", "P3"), "In-Reply-To: <v1.aa@example.org>",
		"In-Reply-To: <v1.old@example.org>\nReferences: <v1.older@example.org> <v1.old@example.org>", 1)
	o.put(t, mail, testAt)
	collectMail(t, m, h)
	if len(h.got) != 1 || !slices.Equal(h.got[0].Answers, []string{"v1.old@example.org", "v1.older@example.org"}) {
		t.Errorf("heard %+v", h.got)
	}
}
