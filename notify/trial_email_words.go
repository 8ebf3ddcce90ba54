package notify

import (
	"context"
	"errors"
	"fmt"
	"net/textproto"
	"regexp"
	"strings"

	mail "github.com/wneessen/go-mail"
)

func (g *dialogue) peer() peer {
	c := g.e.cfg
	return peer{host: c.Host, port: c.Port, mode: c.TLS, block: "email:", user: c.User, password: c.Password}
}

// trouble says why the step under way failed and what to do about it.
func (g *dialogue) trouble(ctx context.Context, err error) string {
	p := g.peer()
	answer := &textproto.Error{}
	var failed *mail.SendError
	switch {
	case ctx.Err() != nil:
		return g.unreached(ctx, p, err)
	case errors.As(err, &answer):
	case errors.As(err, &failed) && failed.ErrorCode() != 0:
		answer = &textproto.Error{Code: failed.ErrorCode(), Msg: failed.EnhancedStatusCode()}
		if g.refusal != nil && g.refusal.Code == answer.Code {
			answer = g.refusal
		}
	case g.at() == "encryption" && !broken(err):
		return fmt.Sprintf("The server offers no encryption (STARTTLS) on port %d, and mail is never sent without. "+
			"Ask the provider for the port that has it; port 465 goes with tls: tls.", p.port)
	case g.at() == "login" && !broken(err):
		return "The server offers no way to log in that Stepgate knows. Ask the provider for the port to submit mail on; a server that wants no login needs no user:."
	case g.at() == "taken" && g.word(ctx, err) == "lost":
		return "The connection broke while the mail was handed over: nobody can tell whether it was taken. Look whether it came before you try again."
	default:
		return g.unreached(ctx, p, err)
	}
	return g.refused(answer, p)
}

// enhancedCode is that at the beginning of an answer: RFC 3463 section 2.
var enhancedCode = regexp.MustCompile(`^[245]\.[0-9]{1,3}\.[0-9]{1,3}\b`)

// refused says what an answer means at the step under way, what to do, and
// what the server said. Codes: RFC 5321 section 4.2, RFC 4954 section 6, RFC
// 3463 section 3.
func (g *dialogue) refused(a *textproto.Error, p peer) string {
	enhanced := enhancedCode.FindString(a.Msg)
	words := strings.TrimSpace(strings.TrimPrefix(a.Msg, enhanced))
	code := strings.TrimSpace(fmt.Sprintf("%d %s", a.Code, enhanced))
	what, do := meant(g.at(), a.Code, enhanced, words)
	return fmt.Sprintf("%s (%s). %s%s", what, code, do, p.said(words))
}

// meant is what a refusal means at a step, and what to do.
func meant(step string, code int, enhanced, words string) (what, do string) {
	later := "Try again in a few minutes."
	switch {
	case step == "greeting" && code < 500:
		return "The server is busy", later
	case step == "greeting":
		return "The server turned us away before any login", "Ask the provider whether it takes mail from this machine, and on which port."
	case step == "encryption":
		return "The server can't encrypt now, and mail is never sent without", later
	case step == "login" && code < 500:
		return "The server can't check the login now", later
	case step == "login" && (code == 535 || enhanced == "5.7.8"):
		return "The user or the password is wrong", "Look at user: and password: under email:; many providers want a password made for programs in place of your own."
	case step == "login":
		return "The server refused the login", "Look at user: and password: under email:; the provider may have to allow programs to log in, or want a password made for them."
	case code == 530:
		return "The server wants a login first", "Write user: and password: under email:."
	case accountCodes[code]:
		return "The server does not take the login for this", "Look at user: and password: under email:."
	}
	return meantOfMail(step, code, enhanced, words, later)
}

// meantOfMail is the same once the login is over.
func meantOfMail(step string, code int, enhanced, words, later string) (what, do string) {
	switch {
	case step == "sender" && code < 500:
		return "The server does not take the sender now", later
	case step == "sender":
		return "The server does not let this account send from the address in from:", "Look at from: under email:, or have the provider allow it."
	case step == "recipient" && code < 500:
		return "The server does not take the recipient now, as many do with a sender they don't know", later
	case step == "recipient" && deadAddress(enhanced):
		return "Nobody has this address", "Look at the address you gave."
	case step == "recipient" && strings.Contains(strings.ToLower(words), "relay"):
		return "The server does not pass mail on to other domains for us (relay denied)", "Look at user: and password: under email:, or use the server that the domain in from: sends by."
	case step == "recipient":
		return "The server refused the recipient", "Look at the address you gave; if it is right, ask the provider whether this account may send mail to other domains."
	case code < 500:
		return "The server does not take the mail now", later
	}
	return "The server refused the mail itself", "It may take it for unwanted mail: ask the provider, and look at from:, dkim: and the domain's SPF record."
}
