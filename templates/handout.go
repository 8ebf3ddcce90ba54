package templates

import (
	_ "embed"
	"fmt"
	"html/template"
	"strings"

	"stepgate/rules"
	"stepgate/rules/reply"
)

// The layout of the handout, the same in every language; its words are in the
// handout.tmpl of each.
//
//go:embed pages/handout.html
var handoutLayout string

// Handout is a program as a patient takes it home.
type Handout struct {
	Clinic     Clinic
	Language   string
	Program    *rules.Program
	Vocabulary *reply.Vocabulary // of the language: the letters, and the danger signs

	// One patient's own: with their side, tailoring, cautions and pain lines.
	// Without an enrollment it is the program as it is written.
	Enrollment *rules.Enrollment
	Name       string // first name; empty: nobody's own
}

// handout is what the layout sees.
type handout struct {
	Lang, Title  string
	Clinic       Clinic
	Name         string
	Draft        bool
	By           string // who approved it
	On           rules.Date
	Year         int
	Weeks        []handoutWeeks
	Stays        bool // the clinician keeps the patient at the last of the weeks shown
	Exercises    []handoutExercise
	Support      bool
	Skin         bool // the texts ask for a look at the skin
	SkinFirst    bool // and wear grows only after it was reported
	Wear         []handoutWear
	Answers      []handoutAnswer
	Letters      reply.Letters // as they are shown
	Bands        []handoutBand
	FirstStep    rules.FirstStep
	Signs        []handoutSigns
	Pause        int  // the pain at which to call
	HasExercises bool // not the wear-in alone
}

// Handout renders the program as one page of HTML to print: no script, and
// nothing from elsewhere. It says what the program says and no more. A program
// that nobody approved says in words that it is a draft.
func (s *Set) Handout(h Handout) (string, error) {
	l := s.in(h.Language)
	page, err := l.handoutPage()
	if err != nil {
		return "", err
	}
	return l.fillHandout(page, h)
}

// handoutPage is the layout with the words of the language.
func (l *language) handoutPage() (*template.Template, error) {
	page, err := template.New("handout").Option("missingkey=error").Funcs(l.funcs()).Funcs(template.FuncMap{
		"say": func(key string, data any) string { return l.line("handout/"+key, data) },
	}).Parse(handoutLayout)
	if err != nil {
		return nil, fmt.Errorf("parse the handout's layout: %w", err)
	}
	return page, nil
}

func (l *language) fillHandout(page *template.Template, h Handout) (string, error) {
	var b strings.Builder
	if err := page.Execute(&b, l.handout(h)); err != nil {
		return "", fmt.Errorf("render the handout of %s in %s: %w", h.Program.ID, l.code, err)
	}
	return b.String(), nil
}

func (l *language) handout(h Handout) handout {
	if h.Enrollment == nil {
		h.Enrollment = new(rules.Enrollment)
	}
	p, e := h.Program, h.Enrollment
	v := handout{
		Lang: l.code, Title: p.Title.In(l.code), Clinic: h.Clinic, Name: h.Name,
		Draft:   p.Approved == nil,
		Support: e.Cautions.Balance, FirstStep: p.FirstStep, HasExercises: len(p.Blocks) > 0,
		Pause: e.Pain(p).Pause,
	}
	if p.Approved != nil {
		v.By, v.On = p.Approved.By, p.Approved.On
		v.Year, _, _ = v.On.Civil()
	}
	if h.Vocabulary != nil {
		v.Letters = shownLetters(h.Vocabulary.Letters)
	}
	if v.Title == "" {
		v.Title = p.ID
	}
	v.Weeks, v.Stays = l.handoutWeeks(h)
	v.Exercises = l.handoutExercises(h, v.Weeks)
	if wear := e.WearIn(p); wear != nil {
		v.Wear = l.handoutWear(wear)
		v.Skin, v.SkinFirst = e.Cautions.SkinChecks(), e.Cautions.ReducedSensation
	}
	v.Answers = l.handoutAnswers(v)
	v.Bands = handoutBands(p, e)
	v.Signs = l.handoutSigns(h.Vocabulary)
	return v
}
