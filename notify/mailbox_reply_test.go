package notify

import (
	"encoding/base64"
	"strings"
	"testing"
)

// Replies as mail programs write them, in their own languages: from memory.
func TestOwnWords(t *testing.T) {
	for name, c := range map[string]struct{ text, want string }{
		"plain":              {"D P3\n", "D P3"},
		"several lines":      {"Done.\n\n\n\nPain was 3\nthank you", "Done.\n\nPain was 3\nthank you"},
		"nothing":            {"\n \n", ""},
		"signature":          {"D P3\n-- \nPat Doe\n555 0100 10", "D P3"},
		"stripped dashes":    {"D P3\n--\nPat", "D P3"},
		"phone":              {"D P3\n\nSent from my iPhone", "D P3"},
		"phone above quote":  {"P3\nSent from my Galaxy\n\nOn Mon, Oct 5, 2026 at 9:00 AM Clinic <c@example.org> wrote:\n> Pain 0-10?", "P3"},
		"app":                {"P3\n\nGet Outlook for iOS<https://aka.example/o0>\n", "P3"},
		"top":                {"P3\n\nOn Mon, Oct 5, 2026 at 9:00 AM Harbor <c@example.org> wrote:\n> Pain 0-10?\n> 4 times", "P3"},
		"broken lead-in":     {"P3\n\nOn Mon, Oct 5, 2026 at 9:00 AM Harbor Foot Clinic\n<c@example.org> wrote:\n\n> Pain 0-10?", "P3"},
		"lead-in unmarked":   {"P3\n\nOn Monday, October 5, 2026 at 09:00, Harbor <c@example.org> wrote:\n\nPain 0-10?\n4 times", "P3"},
		"beneath":            {"On 5 Oct 2026, Harbor wrote:\n> Pain 0-10?\n\n7", "7"},
		"between":            {"> Did you do it?\nyes\n> Pain 0-10?\n8", "yes\n8"},
		"deep quotes":        {"P3\n>> 9\n> > 8\n  > 7", "P3"},
		"block":              {"P3\n\n-----Original Message-----\nFrom: Harbor\nSent: today\n\nPain 0-10?", "P3"},
		"head":               {"P3\n\nFrom: Harbor <c@example.org>\nSent: Monday, 5 October 2026 09:00\nTo: Pat\nSubject: Your steps\n\n4 times", "P3"},
		"head in bold":       {"P3\n\n*From:* Harbor\n*Date:* today\n*To:* Pat\n\n4 times", "P3"},
		"ruled head":         {"P3\n________________________________\nFrom: Harbor\nSent: today\nTo: Pat\n4 times", "P3"},
		"forwarded":          {"look\n\nBegin forwarded message:\n\nP9", "look"},
		"not a lead-in":      {"On Monday I had pain 7", "On Monday I had pain 7"},
		"not one either":     {"On Monday the pain was:\n7", "On Monday the pain was:\n7"},
		"not a head":         {"From: 3\nto a 7 at night", "From: 3\nto a 7 at night"},
		"blanks nobody sees": {"\ufeffP\u200b3\u00a0\r\n", "P3"},

		"es":       {"H P3\n\nEl lun, 5 oct 2026 a las 9:00, Harbor (<c@example.org>) escribió:\n> 0-10?\n\nEnviado desde mi iPhone", "H P3"},
		"de":       {"P3\n\nAm 05.10.2026 um 09:00 schrieb Harbor <c@example.org>:\n> 0-10?\n\nVon meinem iPhone gesendet", "P3"},
		"de block": {"P3\n\n-----Ursprüngliche Nachricht-----\nVon: Harbor\nGesendet: heute\n4 mal", "P3"},
		"de head":  {"P3\n\nVon: Harbor\nGesendet: Montag, 5. Oktober 2026\nAn: Pat\nBetreff: Heute\n4 mal", "P3"},
		"fr":       {"P3\n\nLe lun. 5 oct. 2026 à 09:00, Harbor <c@example.org> a écrit\u00a0:\n> 0-10 ?\n\nEnvoyé de mon iPhone", "P3"},
		"it":       {"P3\n\nIl giorno lun 5 ott 2026 alle 09:00 Harbor ha scritto:\n> 0-10?\nInviato da iPhone", "P3"},
		"pt":       {"P3\n\nEm seg., 5 de out. de 2026, Harbor <c@example.org> escreveu:\n> 0-10?\nEnviado do meu iPhone", "P3"},
		"nl":       {"P3\n\nOp ma 5 okt 2026 om 09:00 schreef Harbor <c@example.org>:\n> 0-10?\nVerstuurd vanaf mijn iPhone", "P3"},
		"sv":       {"P3\n\nDen mån 5 okt. 2026 09:00 skrev Harbor <c@example.org>:\n> 0-10?\nSkickat från min iPhone", "P3"},
		"pl":       {"P3\n\npon., 5 paź 2026 o 09:00 Harbor <c@example.org> napisał(a):\n> 0-10?", "P3"},
		"ru":       {"P3\n\nпн, 5 окт. 2026 г. в 09:00, Harbor <c@example.org>:\n> 0-10?", "P3"},
		"unknown":  {"P3\n\n2026年10月5日 Harbor <c@example.org>:\n> 0-10?", "P3"},
	} {
		if got := ownWords(c.text); got != c.want {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
	}
}

func TestHTMLText(t *testing.T) {
	for name, c := range map[string]struct{ html, want string }{
		"plain":       {`<html><head><title>P9</title><style>p{color:#123}</style></head><body><p>D P3</p></body></html>`, "D P3"},
		"bare":        {`D P3`, "D P3"},
		"lines":       {`<div>D</div><div>P3<br>ok</div><p>bye</p>`, "D\nP3\nok\nbye"},
		"blanks":      {"<div>pain <b>3</b>\n of\n<i>1</i>0&nbsp;max&amp;up</div>", "pain 3 of 10 max&up"},
		"no blank":    {"<b>1</b>0", "10"},
		"table":       {`<table><tr><td>Pain</td><td>3</td></tr><tr><td>ok</td></tr></table>`, "Pain 3\nok"},
		"quote":       {`<div>P3</div><div class="gmail_quote"><div class="gmail_attr">On Mon wrote:</div><blockquote>0-10<div>9</div></blockquote></div>`, "P3"},
		"cite":        {`P3<br><br><div>On 5 Oct 2026, at 9:00, Harbor wrote:</div><blockquote type="cite"><div>Pain 0-10?</div></blockquote><div>thanks</div>`, "P3\n\nthanks"},
		"head":        {`<div>P3</div><hr><div id="x"><b>From:</b> Harbor<br><b>Sent:</b> Monday<br><b>To:</b> Pat<br></div><div>9 times</div>`, "P3"},
		"nested":      {`P3<blockquote>1<blockquote>2</blockquote>3</blockquote>ok`, "P3\nok"},
		"unclosed":    {`P3<blockquote>9`, "P3"},
		"signature":   {`P3<div class="gmail_signature">Suite 9</div>`, "P3"},
		"hidden":      {`<div style="Display : none">9</div><span hidden>8</span><script>7</script><!-- 6 -->P3`, "P3"},
		"not hidden":  {`<div style="display:block">P3</div>`, "P3"},
		"void inside": {`<blockquote><br><img src="x"><hr>9</blockquote>P3`, "P3"},
		"broken":      {`<div P3 <p>P4<`, "P4<"},
		"picture":     {`<img src="cid:x" alt="P9">`, ""},
	} {
		if got := ownWords(htmlText(c.html)); got != c.want {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
	}
	// Nested without end it takes no longer than its length.
	deep := strings.Repeat("<div><blockquote>", 10_000) + "9"
	if got := ownWords(htmlText("P3" + deep)); got != "P3" {
		t.Errorf("deep: %q", got)
	}
}

func mimeMail(header, body string) string {
	return "From: " + testMail + "\nSubject: Re: Your steps for today\n" + header + "\n\n" + body
}

func multipartMail(kind string, parts ...string) string {
	return mimeMail("Content-Type: multipart/"+kind+"; boundary=\"b=\"",
		"before\n--b=\n"+strings.Join(parts, "\n--b=\n")+"\n--b=--\nafter")
}

func TestReplyParts(t *testing.T) {
	plain := "Content-Type: text/plain; charset=utf-8\n\nD P3"
	html := "Content-Type: text/html; charset=utf-8\n\n<p>D P4</p>"
	picture := "Content-Type: image/jpeg; name=x.jpg\nContent-Transfer-Encoding: base64\n\n/9j/4AAQ"
	inner := strings.SplitN(multipartMail("alternative", plain, html), "\n", 3)[2]
	inner = strings.ReplaceAll(inner, "b=", "c=")
	for name, c := range map[string]struct{ raw, want string }{
		"alternative":          {multipartMail("alternative", plain, html), "D P3"},
		"alternative, turned":  {multipartMail("alternative", html, plain), "D P3"},
		"blank plain":          {multipartMail("alternative", "Content-Type: text/plain\n\n \n", html), "D P4"},
		"HTML only":            {mimeMail("Content-Type: text/html", "<p>D P4</p>"), "D P4"},
		"two texts":            {multipartMail("mixed", plain, picture, "Content-Type: text/plain\n\nand sore"), "D P3\nand sore"},
		"nested":               {multipartMail("mixed", inner, picture), "D P3"},
		"text attached":        {multipartMail("mixed", plain, "Content-Type: text/plain\nContent-Disposition: attachment; filename=x\n\nP9"), "D P3"},
		"mail attached":        {multipartMail("mixed", plain, "Content-Type: message/rfc822\n\nSubject: x\n\nP9"), "D P3"},
		"attachment only":      {multipartMail("mixed", picture), ""},
		"picture in HTML only": {multipartMail("related", "Content-Type: text/html\n\n<img src=cid:x>", picture), ""},
		"picture as the mail":  {mimeMail("Content-Type: image/jpeg\nContent-Transfer-Encoding: base64", "/9j/4AAQ"), ""},
		"no boundary":          {mimeMail("Content-Type: multipart/mixed", "--x\n\nP9\n--x--"), ""},
		"no end":               {strings.Split(multipartMail("mixed", plain), "\n--b=--")[0], "D P3"},
		"no type":              {mimeMail("X: y", "D P3"), "D P3"},
		"half a type":          {mimeMail("Content-Type: text", "D P3"), "D P3"},
		"odd parameters":       {mimeMail("Content-Type: text/html; charset=\"utf-8", "<b>D P3</b>"), "D P3"},
		"signed":               {multipartMail("signed; micalg=x", plain, "Content-Type: application/pgp-signature\n\nx"), "D P3"},

		"base64":             {mimeMail("Content-Transfer-Encoding: base64", base64.StdEncoding.EncodeToString([]byte("D P3\nmañana"))), "D P3\nmañana"},
		"quoted-printable":   {mimeMail("Content-Type: text/plain; charset=utf-8\nContent-Transfer-Encoding: quoted-printable", "ma=C3=B1ana =\nP3 = ok"), "mañana P3 = ok"},
		"ISO-8859-1":         {mimeMail("Content-Type: text/plain; charset=iso-8859-1", "ma\xf1ana P3"), "mañana P3"},
		"ISO-8859-1, quoted": {mimeMail("Content-Type: text/plain; charset=ISO-8859-1\nContent-Transfer-Encoding: quoted-printable", "ma=F1ana P3"), "mañana P3"},
		"UTF-8":              {mimeMail("Content-Type: text/plain; charset=UTF-8", "mañana P3 🙂"), "mañana P3 🙂"},
		"UTF-16":             {mimeMail("Content-Type: text/plain; charset=utf-16le\nContent-Transfer-Encoding: base64", "UAAzAA=="), "P3"},
		"Shift-JIS":          {mimeMail("Content-Type: text/plain; charset=shift_jis", "\x92\xc9 3"), "痛 3"},
		"unsaid":             {mimeMail("X: y", "ma\xf1ana P3"), "mañana P3"},
		"unknown set":        {mimeMail("Content-Type: text/plain; charset=x-none", "ma\xf1ana P3"), "mañana P3"},
		"wrong set":          {mimeMail("Content-Type: text/plain; charset=utf-8", "ma\xf1ana P3"), "mañana P3"},
		"unknown encoding":   {mimeMail("Content-Transfer-Encoding: x-none", "D P3"), "D P3"},
		"flowed": {mimeMail("Content-Type: text/plain; format=flowed", "the pain was \n10 today\n > not quoted\n> P9 \n> more\n-- \nPat"),
			"the pain was 10 today"},
		"flowed, joined": {mimeMail("Content-Type: text/plain; format=flowed; delsp=yes", "pain 1 \n0"), "pain 10"},
	} {
		if got := readLetter([]byte(strings.ReplaceAll(c.raw, "\n", "\r\n")), false).reply(); got != c.want {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
	}
}

// People answer in the subject too, but not by leaving ours as it is.
func TestReplyInTheSubject(t *testing.T) {
	quoted := "\nOn 5 Oct 2026, Harbor wrote:\n> Pain 0-10?\n\nSent from my iPhone\n"
	for subject, want := range map[string]string{
		"D P3":                        "D P3",
		"Re: D P3":                    "D P3",
		"RE[2]: Fwd: AW: WG: RV: 7":   "7",
		"SV : 7":                      "7",
		"Re：7":                        "7",
		"=?utf-8?Q?Re:_ma=C3=B1ana?=": "mañana",
		"R: 5":                        "R: 5", // the right foot
		"Regards: 5":                  "Regards: 5",
		"":                            "",
	} {
		l := readLetter([]byte("Subject: "+subject+"\n\n"+quoted), false)
		if got := l.reply(); got != want {
			t.Errorf("%q: %q, want %q", subject, got, want)
		}
		if got := BareSubject(l.text("Subject")); got != want {
			t.Errorf("%q is bare as %q", subject, got)
		}
	}
}

// Where a mail is longer than what is read of it, no number is read in half.
func TestReplyCut(t *testing.T) {
	body := strings.Repeat("x", 100) + "\npain 10"
	for n := range len(body) + 1 {
		got := readLetter([]byte("Subject: a\n\n"+body[:n]), true).reply()
		if strings.HasSuffix(got, "pain 1") || strings.HasSuffix(got, "pain 10") {
			t.Errorf("cut after %d: %q", n, got)
		}
	}
	parts := multipartMail("mixed", "Content-Type: text/plain\n\npain 10")
	cut := strings.Index(parts, "10") + 1
	if got := readLetter([]byte(parts[:cut]), true).reply(); got != "pain" {
		t.Errorf("part cut: %q", got)
	}
	long := "P3 " + strings.Repeat("so ", maxReply/3) + "end"
	if got := readLetter([]byte("\n"+long), false).reply(); len(got) > maxReply || !strings.HasPrefix(got, "P3 so") || !strings.HasSuffix(got, " so") {
		t.Errorf("%d bytes: %q", len(got), got)
	}
	if text := cutAt("pain 10", 6); text != "pain" {
		t.Errorf("%q", text)
	}
}
