package notify

import (
	"bytes"
	"io"
	"strings"
	"unicode/utf8"

	"github.com/emersion/go-message"
	"golang.org/x/text/encoding/charmap"
)

const (
	// maxDepth and maxParts bound the parts of a mail, ours: ten times what a
	// mail program makes.
	maxDepth = 10
	maxParts = 200
	// maxReply is the most that is kept of what a person wrote, in bytes: as
	// for an answer on the spool.
	maxReply = maxAnswer
)

// entity opens the mail as a part of itself. An unknown encoding or character
// set is no error: what is there is read as it is.
func (l letter) entity() *message.Entity {
	e, _ := message.New(l.header, bytes.NewReader(l.body))
	return e
}

// walk gives every part that has no parts, with its content type.
func (l letter) walk(give func(t string, part *message.Entity)) {
	left := maxParts
	walkParts(l.entity(), maxDepth, &left, give)
}

func walkParts(e *message.Entity, depth int, left *int, give func(string, *message.Entity)) {
	t, _ := kind(e.Header)
	r := subparts(e)
	if r == nil {
		give(t, e)
		return
	}
	for depth > 0 && *left > 0 {
		*left--
		// With an error there is still a part where only its encoding is unknown.
		part, _ := r.NextPart()
		if part == nil {
			break
		}
		walkParts(part, depth-1, left, give)
	}
}

// subparts reads the parts of a multipart; nil: it is none, or does not say what
// lies between them.
func subparts(e *message.Entity) message.MultipartReader {
	if _, params := kind(e.Header); params["boundary"] == "" {
		return nil
	}
	return e.MultipartReader()
}

// written is what is in a part.
type written struct {
	text     string
	html     bool // text was made of HTML
	attached bool // something is in it that is no text
}

// reader reads what a person wrote in a mail.
type reader struct {
	cut   bool // the mail goes on after what was read
	alone bool // it has no parts
	left  int  // parts that may still be read
}

// reply is what a person wrote: the text of a mail without what it quotes and
// signs with, and where that leaves nothing, its subject, for some answer
// there. A mail that only brings a picture or a file has no text: its subject
// is then the picture's.
func (l letter) reply() string {
	t, _ := kind(l.header)
	r := reader{cut: l.cut, alone: !strings.HasPrefix(t, "multipart/"), left: maxParts}
	w := r.read(l.entity(), maxDepth)
	text := ownWords(w.text)
	if text == "" && !w.attached {
		text = BareSubject(l.text("Subject"))
	}
	return cutAt(text, maxReply)
}

// read reads a part. Of alternatives the plain text is taken where there is
// one that is not blank; of parts side by side all texts, in order.
func (r *reader) read(e *message.Entity, depth int) written {
	t, params := kind(e.Header)
	if strings.HasPrefix(t, "multipart/") {
		return r.readParts(e, t == "multipart/alternative", depth)
	}
	disposition, _, _ := e.Header.ContentDisposition()
	switch {
	case strings.EqualFold(disposition, "attachment"):
	case t == "text/plain":
		return written{text: unflow(r.decode(e), params)}
	case t == "text/html":
		return written{text: htmlText(r.decode(e)), html: true}
	}
	return written{attached: true}
}

func (r *reader) readParts(e *message.Entity, alternative bool, depth int) written {
	var (
		all written
		mr  = subparts(e)
	)
	if mr == nil || depth == 0 {
		return written{attached: true}
	}
	for r.left > 0 {
		r.left--
		part, _ := mr.NextPart()
		if part == nil {
			break
		}
		w := r.read(part, depth-1)
		all.attached = all.attached || w.attached
		blank := strings.TrimSpace(w.text) == ""
		switch {
		case blank:
		case all.text == "", alternative && all.html && !w.html:
			all.text, all.html = w.text, w.html
		case !alternative:
			all.text, all.html = all.text+"\n"+w.text, all.html && w.html
		}
	}
	return all
}

// decode is the text of a part, well formed. Where the part breaks off, so
// does the text, before a word that may not be there whole.
func (r *reader) decode(e *message.Entity) string {
	b, err := io.ReadAll(io.LimitReader(e.Body, maxMail))
	text := string(b)
	if !utf8.ValidString(text) {
		// No character set, or a wrong one: that of most mails which forget to
		// say (common practice).
		text, _ = charmap.Windows1252.NewDecoder().String(text)
	}
	text = strings.ReplaceAll(strings.ToValidUTF8(text, "\ufffd"), "\r\n", "\n")
	if r.cut && (err != nil || r.alone) {
		text = wholeWords(text)
	}
	return text
}

// unflow joins the lines that a mail program broke: RFC 3676 section 4. Quoted
// lines stay as they are.
func unflow(text string, params map[string]string) string {
	if !strings.EqualFold(params["format"], "flowed") {
		return text
	}
	joined := strings.EqualFold(params["delsp"], "yes")
	var out strings.Builder
	for line := range strings.Lines(text) {
		if strings.HasPrefix(line, ">") {
			out.WriteString(line)
			continue
		}
		line = strings.TrimPrefix(line, " ") // put before what looks like a quote
		words, ended := strings.CutSuffix(line, "\n")
		if ended && strings.HasSuffix(words, " ") && words != "-- " {
			if joined {
				words = strings.TrimSuffix(words, " ")
			}
			out.WriteString(words)
			continue
		}
		out.WriteString(line)
	}
	return out.String()
}
