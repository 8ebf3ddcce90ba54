package reply

import (
	"slices"
	"strings"

	"stepgate/rules"
)

// pattern takes in a phrase that is searched for anywhere.
func (c *compiler) pattern(list, s string) (pattern, bool) {
	var p pattern
	for k, part := range strings.Split(strings.ReplaceAll(s, "…", "..."), "...") {
		ws := c.learnNumbers(part)
		if len(ws) == 0 {
			c.errorf("%s: %q needs words on both sides of ...", list, s)
			return p, false
		}
		for i, w := range ws {
			p.words = append(p.words, w)
			p.gap = append(p.gap, k > 0 && i == 0)
		}
	}
	return p, true
}

// learnNumbers is learn, and keeps whole numbers as words: "38 grados".
func (c *compiler) learnNumbers(p string) []string {
	var out []string
	for _, t := range c.r.rewrite(tokenize(p)) {
		switch w := t.num.whole(); {
		case t.kind == digits && w != "":
			out = append(out, w)
		case t.kind == word || t.kind == emoji:
			out = append(out, t.text)
			c.known[t.text] = true
		}
	}
	return out
}

func (c *compiler) patterns(list string, ss []string) patterns {
	out := patterns{}
	for _, s := range ss {
		if p, ok := c.pattern(list, s); ok {
			out.add(p)
		}
	}
	return out
}

// dangers takes in the red flags. A name or a phrase may stand once only, so
// that a clinician who edits one sees all of it.
func (c *compiler) dangers() {
	if len(c.v.RedFlags) == 0 {
		c.errorf("red flags: empty")
	}
	names, owner := map[string]bool{}, map[string]string{}
	for i, d := range c.v.RedFlags {
		list := "red flags: " + d.Name
		switch {
		case d.Name == "":
			c.errorf("red flags: entry %d has no name", i+1)
		case names[d.Name]:
			c.errorf("%s: stands twice", list)
		}
		names[d.Name] = true
		switch d.Tier {
		case rules.UrgentEmergency, rules.UrgentToday, rules.UrgentClinic:
		case "":
			c.errorf("%s: no tier; write emergency, urgent or clinic", list)
		default:
			c.errorf("%s: tier %q is not emergency, urgent or clinic", list, d.Tier)
		}
		if len(d.Words)+len(d.Verbs) == 0 {
			c.errorf("%s: no words", list)
		}
		c.r.signs = append(c.r.signs, rules.RedFlag{Name: d.Name, Tier: d.Tier})
		c.r.skins = append(c.r.skins, d.Skin)
		for _, s := range d.Not {
			if p, ok := c.pattern(list, s); ok {
				p.flag, p.tight = i, true // must not reach over other words
				c.r.harmless.add(p)
			}
		}
		for k, s := range slices.Concat(d.Words, d.Verbs) {
			p, ok := c.pattern(list, s)
			if !ok {
				continue
			}
			key := p.key()
			if had, ok := owner[key]; ok && had != d.Name {
				c.errorf("%s: %q stands under %s too", list, s, had)
			}
			owner[key] = d.Name
			p.flag, p.verb = i, k >= len(d.Words)
			for _, w := range p.words {
				p.firm = p.firm || c.r.unable[w] || c.r.no[w] || c.r.not[w]
			}
			c.r.danger.add(p)
		}
	}
}

// key tells patterns apart.
func (p pattern) key() string {
	var b strings.Builder
	for i, w := range p.words {
		if p.gap[i] {
			b.WriteString("... ")
		}
		b.WriteString(w + " ")
	}
	return b.String()
}

// keywords takes in what opts out and in, asks for help and tells of a wrong
// person.
func (c *compiler) keywords() {
	k, out := c.v.Keywords, &c.r.keywords
	if len(k.Stop) == 0 {
		c.errorf("keywords: stop: empty")
	}
	c.wholeTexts("keywords", k, out, c.learn)
	for _, ws := range out.unclear { // a report beside one is read as if it were not there
		if key := strings.Join(ws, " "); c.taken[key] == mUnknown {
			c.phrase(mFiller, key, 0)
		}
	}
	out.stopPhrase = c.patterns("keywords: stop phrases", k.StopPhrase)
	out.stopAsk = c.patterns("keywords: stop asked", k.StopAsk)
	out.notStop = c.patterns("keywords: not stop", k.NotStop)
	c.r.wrong = c.patterns("wrong person", c.v.Wrong)
	c.r.died = c.patterns("died", c.v.Died)
}

// common takes in the keywords of every language. They are not learned: no
// word of this language may pass for a misspelling of another language's. One
// that is a report in this language must not be among them.
func (c *compiler) common() {
	const list = "keywords of every language"
	c.wholeTexts(list, c.v.Common, &c.r.common, c.split)
	for _, ws := range slices.Concat(c.r.common.stop, c.r.common.unclear, c.r.common.start, c.r.common.help) {
		switch m := c.taken[strings.Join(ws, " ")]; m {
		case mUnknown, mFiller, mIgnore:
		default:
			c.errorf("%s: %q stands under %s too", list, strings.Join(ws, " "), c.names[m])
		}
	}
}

// wholeTexts takes in the keywords that are a text of their own. A phrase may
// stand under one heading only.
func (c *compiler) wholeTexts(list string, k Keywords, out *keywords, split func(string) []string) {
	owner := map[string]string{}
	for _, l := range []struct {
		name string
		from []string
		to   *[][]string
	}{
		{"stop", k.Stop, &out.stop}, {"start", k.Start, &out.start}, {"help", k.Help, &out.help},
	} {
		for _, s := range l.from {
			ws := split(s)
			key := strings.Join(ws, " ")
			if had := owner[key]; had != "" && had != l.name {
				c.errorf("%s: %q stands under both %s and %s", list, s, had, l.name)
			}
			owner[key] = l.name
			if len(ws) == 0 {
				c.errorf("%s: %s: %q has no words", list, l.name, s)
				continue
			}
			*l.to = append(*l.to, ws)
		}
	}
	for _, s := range k.StopUnclear { // may be among "stop" too: there it is the whole text
		if ws := split(s); len(ws) > 0 {
			out.unclear = append(out.unclear, ws)
		} else {
			c.errorf("%s: stop unclear: %q has no words", list, s)
		}
	}
}

// endsOfText takes in what phones write before a text they quote and under a
// text that was written.
func (c *compiler) endsOfText() {
	for _, e := range c.v.Echo {
		e = strings.ToLower(strings.Join(strings.Fields(string(normalize(e))), " "))
		if e == "" {
			c.errorf("echo: an empty beginning")
			continue
		}
		c.r.echoes = append(c.r.echoes, e)
	}
	for _, s := range c.v.Signature {
		if ws := c.split(s); len(ws) > 0 {
			c.r.signatures = append(c.r.signatures, ws)
		} else {
			c.errorf("signature: %q has no words", s)
		}
	}
}
