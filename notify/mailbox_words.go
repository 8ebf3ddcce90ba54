package notify

import "regexp"

// The lines by which mail programs lead in what they quote, and sign, in the
// languages they are set to: from memory, and not all there are. What is not
// known here is left in the text.

// leadIn is how a lead-in begins and ends: "On Mon, Oct 5 ... wrote:". It
// may be broken over lines, and names a date or an address in between.
type leadIn struct{ begin, end *regexp.Regexp }

func lead(begin, end string) leadIn {
	return leadIn{regexp.MustCompile(`(?i)^` + begin), regexp.MustCompile(`(?i)` + end + `$`)}
}

var leadIns = []leadIn{
	lead(`on\s`, `\bwrote\s?:`),                                                    // English
	lead(`el\s`, `\bescribió\s?:`),                                                 // Spanish
	lead(`am\s`, `\bschrieb(\s.{0,200})?:`),                                        // German
	lead(`le\s`, `\sa écrit\s?:`),                                                  // French
	lead(`il\s`, `\sha scritto\s?:`),                                               // Italian
	lead(`(em|a)\s`, `\bescreveu\s?:`),                                             // Portuguese
	lead(`op\s`, `\bschreef(\s.{0,200})?:`),                                        // Dutch
	lead(`den\s`, `\bskrev(\s.{0,200})?:`),                                         // Danish, Norwegian, Swedish
	lead(`(w dniu|dnia|pon|wt|śr|czw|pt|sob|niedz?)\b`, `\bnapisał(\(a\)|a)?\s?:`), // Polish
	lead(`в\s|\d`, `(написала?|пишет)\s?:`),                                        // Russian
}

// original heads a block that is quoted to the end without marks.
var original = regexp.MustCompile(`(?i)^-{2,}\s*(original message|original appointment|forwarded message|reply message` +
	`|mensaje original|mensaje reenviado|ursprüngliche nachricht|originalnachricht|weitergeleitete nachricht` +
	`|message d'origine|message original|message transféré|messaggio originale|mensagem original` +
	`|oorspronkelijk bericht|originalmeddelande|oprindelig meddelelse|opprinnelig melding` +
	`|wiadomość oryginalna|исходное сообщение)\s*-{2,}$|^begin forwarded message:$`)

// author is the first line of such a block where it has no head, and label
// any of the lines that follow: Sent, To, Subject.
var (
	author = regexp.MustCompile(`(?i)^\*{0,2}(from|de|von|da|van|från|fra|od|от)\s?:\*{0,2}\s*\S`)
	label  = regexp.MustCompile(`^\*{0,2}[\pL][\pL .-]{0,19}\s?:\*{0,2}(\s|$)`)
)

// sentFrom is what a phone adds beneath.
var sentFrom = regexp.MustCompile(`(?i)^(` +
	`sent (from|via|with|using) (my |the |mail|outlook|yahoo|gmail|aol|proton|samsung|galaxy).{0,80}` +
	`|get outlook for .{0,80}|enviado (desde|de|do|via) .{0,80}|obtener outlook para .{0,80}` +
	`|von mein\S+ .{0,60} gesendet|gesendet (von|mit) .{0,80}|outlook für .{0,40}` +
	`|envoyé (de|depuis|à partir de) .{0,80}|télécharger outlook pour .{0,80}` +
	`|inviato da .{0,80}|verstuurd vanaf .{0,80}|skickat från .{0,80}|sendt fra .{0,80}` +
	`|wysłan[eoy] z .{0,80}|отправлено с .{0,80})$`)

// prefixes stand before a subject that answers or passes on: English and most
// others (re, fw, fwd), German (aw, antw, wg), Spanish and Portuguese (rv, res,
// enc), French (tr), Dutch (antw, doorst), Scandinavian (sv, vs, vb), Polish
// (odp). One letter alone may be somebody's answer.
var prefixes = regexp.MustCompile(`(?i)^(\s*(re|fw|fwd|aw|antw|antwort|wg|rv|res|enc|tr|ref|doorst|sv|vs|vb|odp)(\[\d{1,3}\])?\s?[:：])+\s*`)

// BareSubject is a subject without the Re: and its like before it. A text that
// equals that of the mail it answers is no answer: only our own subject came
// back, under a mail with nothing in it.
func BareSubject(subject string) string {
	return prefixes.ReplaceAllString(subject, "")
}
