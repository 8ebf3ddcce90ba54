package notify

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"mime"
	"net/mail"
	"regexp"
	"slices"
	"strings"

	"github.com/emersion/go-message"
	_ "github.com/emersion/go-message/charset" // reads other character sets than UTF-8
	"github.com/emersion/go-message/textproto"
)

const (
	// maxHeader is the most that is read of a mail's header, and maxBody of
	// what follows, in bytes. Together they are what is fetched, so that two
	// copies of one mail are read and counted alike whatever the servers on
	// their way put on top.
	maxHeader = 64 << 10
	maxBody   = maxMail - maxHeader
	// maxHeaderText is the most that is kept of one header field, the longest
	// line there may be: RFC 5322 section 2.1.1.
	maxHeaderText = 998
	// maxAnswers is how many of the mails before it a mail may name.
	maxAnswers = 20
)

// letter is a mail that came in.
type letter struct {
	id     string
	header message.Header
	body   []byte
	cut    bool // the mail goes on after what was read
}

// readLetter takes a mail apart. There is nothing it can't read: what is no
// header field is left out, and a mail without any has none.
func readLetter(raw []byte, cut bool) letter {
	header, body := splitMail(raw)
	l := letter{body: body, cut: cut}
	if len(l.body) > maxBody {
		l.body, l.cut = l.body[:maxBody], true
	}
	// Cleaned as it is, the header has no errors.
	fields, _ := textproto.ReadHeader(bufio.NewReader(bytes.NewReader(header)))
	l.header = message.Header{Header: fields}
	sum := sha256.New()
	for _, s := range []string{l.header.Get("Message-Id"), l.header.Get("Date"), l.header.Get("From"), string(l.body)} {
		fmt.Fprintf(sum, "%d %s", len(s), s)
	}
	l.id = "mail-" + hex.EncodeToString(sum.Sum(nil)[:16])
	return l
}

// fieldName is the name of a header field up to its colon, blanks allowed as
// some write them: RFC 5322 sections 2.2 and 4.5.
var fieldName = regexp.MustCompile(`^[!-9;-~]+[ \t]*:`)

// splitMail gives a header of nothing but header fields, and the body.
func splitMail(raw []byte) (header, body []byte) {
	var clean bytes.Buffer
	kept := false // whether the field of the line before was
	for len(raw) > 0 {
		line, rest, _ := bytes.Cut(raw, []byte("\n"))
		line = bytes.TrimSuffix(line, []byte("\r"))
		raw = rest
		if len(line) == 0 {
			break
		}
		if folded := line[0] == ' ' || line[0] == '\t'; !folded {
			kept = fieldName.Match(line)
		}
		if kept && clean.Len()+len(line) < maxHeader {
			clean.Write(line)
			clean.WriteString("\r\n")
		}
	}
	clean.WriteString("\r\n")
	return clean.Bytes(), raw
}

// text is a header field, decoded, on one line and no longer than a line.
func (l letter) text(name string) string {
	s, err := l.header.Text(name)
	if err != nil {
		s = l.header.Get(name)
	}
	s = strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(s, "\ufffd"))
	return cutAt(strings.Join(strings.Fields(s), " "), maxHeaderText)
}

// word is the first word of a header field, as Auto-Submitted has it before
// its parameters, in lower case.
func (l letter) word(name string) string {
	word, _, _ := strings.Cut(l.header.Get(name), ";")
	word, _, _ = strings.Cut(word, "(")
	return strings.ToLower(strings.TrimSpace(word))
}

// kind is the content type and its parameters, of a part or the whole.
func kind(h message.Header) (string, map[string]string) {
	t, params, err := h.ContentType()
	if err != nil {
		// Something is wrong with the parameters.
		t, _, _ = strings.Cut(t, ";")
	}
	t = strings.ToLower(strings.TrimSpace(t))
	if !strings.Contains(t, "/") {
		t = "text/plain"
	}
	return t, params
}

// someAddress is an address in what is not well formed otherwise.
var someAddress = regexp.MustCompile(`<([^<>@\s]+@[^<>@\s]+)>`)

// from is the address a mail says it is from, in lower case: that of the first
// author, if there is exactly one From field (RFC 5322 section 3.6). Anybody
// can write anything there, and no receiver can tell by the mail alone.
func (l letter) from() (string, bool) {
	if l.header.FieldsByKey("From").Len() != 1 {
		return "", false
	}
	value := l.header.Get("From")
	parser := mail.AddressParser{WordDecoder: &mime.WordDecoder{CharsetReader: message.CharsetReader}}
	address := ""
	if list, err := parser.ParseList(value); err == nil && len(list) > 0 {
		address = list[0].Address
	} else if found := someAddress.FindStringSubmatch(value); found != nil {
		address = found[1]
	}
	// A path has at most 256 octets with its brackets: RFC 5321 section
	// 4.5.3.1.3.
	address = strings.ToLower(address)
	if _, ok := plainAddress(address); !ok || len(address) > 254 {
		return "", false
	}
	return address, true
}

// someID is a Message-ID in a header field, brackets taken off.
var someID = regexp.MustCompile(`<([^<>\s]+@[^<>\s]+)>`)

// ids are the Message-IDs in a header field, without brackets.
func (l letter) ids(name string) []string {
	var ids []string
	for _, found := range someID.FindAllStringSubmatch(l.header.Get(name), -1) {
		if len(found[1]) <= maxHeaderText {
			ids = append(ids, found[1])
		}
	}
	return ids
}

func (l letter) messageID() string {
	if ids := l.ids("Message-Id"); len(ids) > 0 {
		return ids[0]
	}
	return ""
}

// answers are the mails this one answers, the likeliest first: In-Reply-To,
// then References, which has the newest last (RFC 5322 section 3.6.4).
func (l letter) answers() []string {
	older := l.ids("References")
	slices.Reverse(older)
	var ids []string
	for _, id := range append(l.ids("In-Reply-To"), older...) {
		if !slices.Contains(ids, id) && len(ids) < maxAnswers {
			ids = append(ids, id)
		}
	}
	return ids
}

// cutAt shortens a text to that many bytes at most, at a blank if there is
// one, so that no 10 becomes a 1.
func cutAt(s string, most int) string {
	if len(s) <= most {
		return s
	}
	return wholeWords(s[:most+1])
}

// wholeWords takes off the last word, which may not be there whole.
func wholeWords(s string) string {
	if i := strings.LastIndexAny(s, " \t\r\n"); i >= 0 {
		return strings.TrimRight(s[:i], " \t\r\n")
	}
	return ""
}
