package notify

import (
	"strings"
	"testing"
	"unicode/utf8"
)

// FuzzTriage reads any bytes as a mail. It never fails; what is a person's has
// an address to answer to and well-formed texts of bounded size, and the same
// bytes are the same mail.
func FuzzTriage(f *testing.F) {
	for _, seed := range []string{
		letterFrom("one", "D P3"), vacation, receipt, otherBounce, bounceOf("5.1.1", "failed"), "", "\n\nP3",
		multipartMail("mixed", "Content-Type: text/html\n\n<p>P3", "Content-Type: text/plain; format=flowed\n\nP3 \n4"),
		"Content-Type: multipart/mixed; boundary=a\n\n--a\nContent-Type: multipart/mixed; boundary=a\n\n--a\n\nP3",
	} {
		f.Add([]byte(seed), false)
	}
	f.Fuzz(func(t *testing.T, raw []byte, cut bool) {
		l := readLetter(raw, cut)
		got := l.sort()
		if again := readLetter(raw, cut); again.id != l.id {
			t.Errorf("ids %s and %s", l.id, again.id)
		}
		ways := 0
		if got.reason != "" {
			ways++
		}
		if n := got.news; n != nil {
			ways++
			if n.ID == "" || n.Delivered || n.OptedOut || strings.ContainsAny(n.Code, " @<>\r\n") || len(n.Code) > 11 {
				t.Errorf("news %+v", *n)
			}
		}
		if in := got.in; in != nil {
			ways++
			if _, ok := plainAddress(in.From); !ok || in.From != strings.ToLower(in.From) {
				t.Errorf("from %q", in.From)
			}
			for _, s := range append(in.Answers, in.Text, in.Subject, in.MessageID) {
				if len(s) > maxReply || strings.Contains(s, "\r") {
					t.Errorf("%q", s)
				}
			}
			if !utf8.ValidString(in.Text) || !utf8.ValidString(in.Subject) || hasControl(in.Subject) {
				t.Errorf("text %q, subject %q", in.Text, in.Subject)
			}
		}
		if ways != 1 {
			t.Errorf("%+v", got)
		}
	})
}

// FuzzReplyText takes a text and HTML apart. What is left was there before,
// and is left as it is when it is taken apart again.
func FuzzReplyText(f *testing.F) {
	for _, seed := range []string{
		"P3\n\nOn 5 Oct, a wrote:\n> x", "P3\n--\nPat", "<p>P3<blockquote>x</blockquote>", "From: a\nTo: b\nSent: c",
		"<div class=gmail_quote>1</div>2", "Am 5. schrieb\n<a@b.example>:\n\n>x\n9",
	} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		for _, source := range []string{text, htmlText(text)} {
			own := ownWords(source)
			if again := ownWords(own); len(again) > len(own) {
				t.Errorf("%q became %q", own, again)
			}
			for line := range strings.SplitSeq(own, "\n") {
				if strings.HasPrefix(line, ">") {
					t.Errorf("a quote is left in %q", own)
				}
				if !strings.Contains(nothingUnseen.Replace(source), line) {
					t.Errorf("%q was not in %q", line, source)
				}
			}
		}
	})
}
