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
		ws := c.learn(part)
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
	unable := c.learnOne("negation: unable", c.v.Negation.Unable)
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
				p.firm = p.firm || unable[w] || c.r.no[w] || c.r.not[w]
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

// keywords takes in what opts out and in, asks for help, tells of a wrong
// person, and the beginnings of echoes.
func (c *compiler) keywords() {
	k, out := c.v.Keywords, &c.r.keywords
	if len(k.Stop) == 0 {
		c.errorf("keywords: stop: empty")
	}
	owner := map[string]string{}
	for _, l := range []struct {
		name string
		from []string
		to   *[][]string
	}{
		{"stop", k.Stop, &out.stop}, {"start", k.Start, &out.start},
		{"start bare", k.StartBare, &out.startBare}, {"help", k.Help, &out.help},
	} {
		for _, s := range l.from {
			ws := c.learn(s)
			key := strings.Join(ws, " ")
			if had := owner[key]; had != "" && had != l.name {
				c.errorf("keywords: %q stands under both %s and %s", s, had, l.name)
			}
			owner[key] = l.name
			if len(ws) == 0 {
				c.errorf("keywords: %s: %q has no words", l.name, s)
				continue
			}
			*l.to = append(*l.to, ws)
		}
	}
	out.stopPhrase = c.patterns("keywords: stop phrases", k.StopPhrase)
	out.unclear = c.learnOne("keywords: stop unclear", k.StopUnclear)
	out.notStop = c.patterns("keywords: not stop", k.NotStop)
	c.r.wrong = c.patterns("wrong person", c.v.Wrong)
	c.r.died = c.patterns("died", c.v.Died)
	for _, e := range c.v.Echo {
		e = strings.ToLower(strings.Join(strings.Fields(string(normalize(e))), " "))
		if e == "" {
			c.errorf("echo: an empty beginning")
			continue
		}
		c.r.echoes = append(c.r.echoes, e)
	}
}
