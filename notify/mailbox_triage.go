package notify

import (
	"slices"
	"strings"
)

// sorted is what a mail is there for: one of the three.
type sorted struct {
	in     *Incoming // a person wrote it; At is the mailbox's to fill in
	news   *News     // it bounced for good
	reason string    // neither, and why
}

// sort tells people's mails from machines'. A bounce comes first, for it is an
// automatic answer too; then what says of itself that it is automatic (RFC
// 3834 section 5), in bulk or of a list (RFC 2919). No wording is looked at: a
// machine that names itself in none of these ways is taken for a person, and a
// person for no machine.
func (l letter) sort() sorted {
	t, params := kind(l.header)
	report := t == "multipart/report"
	bounced := strings.ReplaceAll(l.word("Return-Path"), " ", "") == "<>"
	switch what := strings.ToLower(params["report-type"]); {
	case report && what == "disposition-notification", t == "message/disposition-notification":
		return sorted{reason: "receipt"} // RFC 8098
	case report && (what == "delivery-status" || bounced):
		if news, ok := l.bounce(); ok {
			return sorted{news: &news}
		}
		return sorted{reason: "bounce"}
	case report:
		return sorted{reason: "report"} // such as a complaint, RFC 5965
	case l.header.Has("Auto-Submitted") && l.word("Auto-Submitted") != "no":
		return sorted{reason: "automatic"}
	case slices.Contains([]string{"bulk", "list", "junk"}, l.word("Precedence")):
		return sorted{reason: "bulk"}
	case l.header.Has("List-Id"):
		return sorted{reason: "list"}
	case bounced:
		return sorted{reason: "bounce"} // of a kind that only people can read
	}
	from, ok := l.from()
	if !ok {
		return sorted{reason: "sender"}
	}
	return sorted{in: &Incoming{
		ID: l.id, From: from, Text: l.reply(),
		Subject: l.text("Subject"), MessageID: l.messageID(), Answers: l.answers(),
	}}
}
