package notify

import (
	"bufio"
	"bytes"
	"io"
	"regexp"
	"strings"

	"github.com/emersion/go-message"
	"github.com/emersion/go-message/textproto"
)

// bounce reads a delivery status notification: RFC 3464. It is news only where
// the server gave the mail up and it is known which mail that was; one that is
// late, was passed on or has arrived is none.
func (l letter) bounce() (News, bool) {
	var (
		failed   recipient
		original string
	)
	l.walk(func(t string, part *message.Entity) {
		switch t {
		case "message/delivery-status", "message/global-delivery-status":
			if r, ok := failure(readAll(part.Body)); ok && failed.action == "" {
				failed = r
			}
		case "message/rfc822", "message/global", "text/rfc822-headers", "message/global-headers":
			if returned := readLetter(readAll(part.Body), false).messageID(); original == "" {
				original = returned
			}
		}
	})
	if original == "" {
		// Some return nothing of the mail and only answer it.
		if ids := l.answers(); len(ids) > 0 {
			original = ids[0]
		}
	}
	if failed.action == "" || original == "" {
		return News{}, false
	}
	return News{ID: original, Code: failed.status, BadContact: deadAddress(failed.status)}, true
}

// recipient is what a notification says of one.
type recipient struct{ action, status string }

var (
	statusCode = regexp.MustCompile(`^[245]\.[0-9]{1,3}\.[0-9]{1,3}`)
	// statusWithin is such a code among the words of the server that refused.
	statusWithin = regexp.MustCompile(`(?:^|[\s#(])(5\.[0-9]{1,3}\.[0-9]{1,3})(?:[\s,;:)]|$)`)
)

// failure is the first recipient for whom the delivery failed for good. A
// final "failed" under a code of class 4 counts too: the server has given up.
func failure(status []byte) (recipient, bool) {
	status = bytes.ReplaceAll(status, []byte("\r\n"), []byte("\n"))
	for group := range bytes.SplitSeq(status, []byte("\n\n")) {
		header, _ := splitMail(bytes.TrimLeft(group, "\n"))
		fields, _ := textproto.ReadHeader(bufio.NewReader(bytes.NewReader(header)))
		h := letter{header: message.Header{Header: fields}}
		if !fields.Has("Final-Recipient") || h.word("Action") != "failed" {
			continue
		}
		r := recipient{"failed", statusCode.FindString(h.word("Status"))}
		// Where the status says nothing but yes or no, the words of the server
		// that refused may say more: RFC 3464 section 2.3.6.
		if r.status == "" || strings.HasSuffix(r.status, ".0.0") {
			if found := statusWithin.FindStringSubmatch(h.header.Get("Diagnostic-Code")); found != nil {
				r.status = found[1]
			}
		}
		if r.status == "" {
			r.status = "failed"
		}
		return r, true
	}
	return recipient{}, false
}

// deadAddress tells whether an enhanced status says that an address gets no
// mail, now or later. By RFC 3463: permanent (class 5), and about the address
// (X.1.X), or a mailbox that is disabled (X.2.1). Not those of X.1.X that are
// about who sent it (7, 8), or say that the address is good (5) or that a
// server on the way is odd (9); nor a mailbox that is full (X.2.2), trouble on
// the network (X.4.X) or a policy (X.7.X), which pass.
func deadAddress(status string) bool {
	switch status {
	case "5.1.5", "5.1.7", "5.1.8", "5.1.9":
		return false
	}
	return status == "5.2.1" || strings.HasPrefix(status, "5.1.")
}

func readAll(r io.Reader) []byte {
	// Half of a part is better than none of it.
	b, _ := io.ReadAll(io.LimitReader(r, maxMail))
	return b
}
