package notify

import (
	"bytes"
	"crypto"
	"crypto/ed25519"
	"crypto/rsa"
	"crypto/sha256"
	"crypto/x509"
	"encoding/base64"
	"encoding/pem"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
)

// DKIMConfig is the key by which mails are signed: RFC 6376. Its public half
// stands in the DNS under Selector._domainkey.Domain.
type DKIMConfig struct {
	Domain   string
	Selector string
	Key      string // PEM, PKCS #8 or PKCS #1: RSA, or Ed25519 (RFC 8463)
}

// minRSA is the shortest key a signature may be made with, in bits: RFC 8301
// section 3.2. It asks for 2048 where there is a choice.
const minRSA = 1024

// dkimSigner makes the signatures of one key.
//
// They are made here, not by a library: the one we send by writes signatures
// that do not verify once the list of header fields exceeds a line, and the
// one we verify by in the tests puts the time of signing into each, so that no
// two tries of a mail would have the same bytes.
type dkimSigner struct {
	domain, selector, algorithm string

	key  crypto.Signer
	hash crypto.Hash // what the key is told the digest is of
}

func newDKIMSigner(cfg DKIMConfig) (*dkimSigner, error) {
	s := &dkimSigner{domain: cfg.Domain, selector: cfg.Selector}
	if !domainName.MatchString(s.domain) || !domainName.MatchString(s.selector) {
		return nil, errors.New("dkim: the domain and the selector must be like host names")
	}
	block, _ := pem.Decode([]byte(cfg.Key))
	if block == nil {
		return nil, errors.New("dkim: the key is no PEM")
	}
	key, err := x509.ParsePKCS8PrivateKey(block.Bytes)
	if err != nil {
		key, err = x509.ParsePKCS1PrivateKey(block.Bytes)
	}
	if err != nil {
		return nil, errors.New("dkim: the key is neither PKCS #8 nor PKCS #1")
	}
	switch key := key.(type) {
	case *rsa.PrivateKey:
		if key.N.BitLen() < minRSA {
			return nil, fmt.Errorf("dkim: an RSA key needs %d bits, better 2048", minRSA)
		}
		s.key, s.hash, s.algorithm = key, crypto.SHA256, "rsa-sha256"
	case ed25519.PrivateKey:
		// RFC 8463 section 3: the digest is signed as if it were the text.
		s.key, s.hash, s.algorithm = key, 0, "ed25519-sha256"
	default:
		return nil, errors.New("dkim: the key must be RSA or Ed25519")
	}
	return s, nil
}

var (
	// signed are the header fields a signature covers where they are there:
	// those of RFC 6376 section 5.4.1 that we write, and both of RFC 8058
	// section 4, which asks for it.
	signed = []string{
		"From", "To", "Subject", "Date", "Message-ID", "In-Reply-To", "References", "Auto-Submitted",
		"MIME-Version", "Content-Type", "Content-Transfer-Encoding", "List-Unsubscribe", "List-Unsubscribe-Post",
	}
	// sealed are named once more than they are there, so that one that is
	// added on the way breaks the signature: RFC 6376 section 8.15.
	sealed = []string{"From", "To", "Cc", "Subject", "Date", "Reply-To"}
)

// signature is the value of the DKIM-Signature field of a mail with CRLF line
// ends, made at that time: c=relaxed/relaxed. Zero leaves the time out.
func (s *dkimSigner) signature(raw []byte, at time.Time) (string, error) {
	header, body, found := bytes.Cut(raw, []byte("\r\n\r\n"))
	if !found {
		return "", errors.New("dkim: a mail without a body")
	}
	fields := unfold(string(header))
	var names []string
	digest := sha256.New()
	for _, name := range signed {
		for _, f := range fields {
			if strings.EqualFold(f.name, name) {
				names = append(names, name)
				fmt.Fprintf(digest, "%s\r\n", relaxedField(f))
			}
		}
	}
	names = slices.Concat(names, sealed)
	bodyHash := sha256.Sum256(relaxedBody(body))
	value := "v=1; a=" + s.algorithm + "; c=relaxed/relaxed;\r\n d=" + s.domain + ";\r\n s=" + s.selector + ";"
	if !at.IsZero() {
		value += "\r\n t=" + strconv.FormatInt(at.Unix(), 10) + ";"
	}
	value += "\r\n h=" + foldNames(names) + ";" +
		"\r\n bh=" + base64.StdEncoding.EncodeToString(bodyHash[:]) + ";\r\n b="
	// The signature covers its own field, with nothing in b= and no line end.
	fmt.Fprint(digest, relaxedField(field{"DKIM-Signature", value}))
	sum, err := s.key.Sign(nil, digest.Sum(nil), s.hash)
	if err != nil {
		return "", errors.New("dkim: the key does not sign")
	}
	b := base64.StdEncoding.EncodeToString(sum)
	for chunk := range slices.Chunk([]byte(b), 70) {
		value += string(chunk) + "\r\n "
	}
	return strings.TrimSuffix(value, "\r\n "), nil
}

// foldNames joins names by colons, on lines of 78 characters at most; blanks
// may stand around a colon (RFC 6376 section 3.5, "h=").
func foldNames(names []string) string {
	joined, width := "", len(" h=")
	for i, name := range names {
		if i > 0 {
			joined, width = joined+":", width+1
		}
		if width+len(name)+len(":") > 78 {
			joined, width = joined+"\r\n  ", len("  ")
		}
		joined, width = joined+name, width+len(name)
	}
	return joined
}

// field is one header field, unfolded or not.
type field struct{ name, value string }

// unfold takes a header apart: RFC 5322 section 2.2.3.
func unfold(header string) []field {
	header = strings.NewReplacer("\r\n ", " ", "\r\n\t", "\t").Replace(header)
	var fields []field
	for line := range strings.SplitSeq(header, "\r\n") {
		if name, value, ok := strings.Cut(line, ":"); ok {
			fields = append(fields, field{name, value})
		}
	}
	return fields
}

var blanks = regexp.MustCompile(`[ \t]+`)

// relaxedField is a header field without its line end: RFC 6376 section 3.4.2.
func relaxedField(f field) string {
	value := strings.ReplaceAll(f.value, "\r\n", "")
	return strings.ToLower(strings.TrimRight(f.name, " \t")) + ":" +
		strings.Trim(blanks.ReplaceAllString(value, " "), " ")
}

// relaxedBody is a body as it is hashed: RFC 6376 section 3.4.4.
func relaxedBody(body []byte) []byte {
	var out []byte
	for line := range bytes.SplitSeq(body, []byte("\r\n")) {
		line = bytes.TrimRight(blanks.ReplaceAll(line, []byte(" ")), " ")
		out = append(append(out, line...), "\r\n"...)
	}
	out = bytes.TrimRight(out, "\r\n")
	if len(out) > 0 {
		out = append(out, "\r\n"...)
	}
	return out
}
