package config

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/nyaruka/phonenumbers"

	"stepgate/rules"
)

// reader turns what people write into what the file has. Its error is a
// sentence that says what to write.
type reader func(x *Enrolling, text string) (string, error)

var (
	threeNumbers = regexp.MustCompile(`^(\d{1,4})[-/.](\d{1,2})[-/.](\d{1,4})$`)
	midnight     = regexp.MustCompile(`[ T]0?0:00(:00(\.0+)?)?$`)
	serial       = regexp.MustCompile(`^\d{5}$`)
	timeForm     = regexp.MustCompile(`^(\d{1,2})(?:[:.](\d\d))?(?::00)? ?([ap])?\.?(?:m\.?)?$`)
	numberForm   = regexp.MustCompile(`^\+?[0-9 .()/\x{00a0}\x{2010}-\x{2013}-]+$`)
)

// date reads a date that can be read in one way only.
func (x *Enrolling) date(text string) (string, error) {
	text = midnight.ReplaceAllString(strings.TrimSpace(text), "")
	if strings.EqualFold(text, "today") {
		return x.Today().String(), nil
	}
	if serial.MatchString(text) {
		return "", errors.New("it is a spreadsheet's number for a day; give the column the format of a date like 2026-10-05")
	}
	if m := threeNumbers.FindStringSubmatch(text); m != nil {
		return numbersDate(text, m)
	}
	for _, layout := range []string{"2 Jan 2006", "2 January 2006", "Jan 2 2006", "January 2 2006"} {
		t, err := time.Parse(layout, strings.Join(strings.FieldsFunc(text, func(r rune) bool { return r == ' ' || r == ',' || r == '-' || r == '.' }), " "))
		if err == nil {
			return rules.DateOf(t).String(), nil
		}
	}
	return "", errors.New("it is no date that can be read; write it like 2026-10-05")
}

// numbersDate reads a date of three numbers. Day and month may stand either
// way round, so only one that leaves no choice is taken.
func numbersDate(text string, m []string) (string, error) {
	var n [3]int
	for i := range n {
		n[i], _ = strconv.Atoi(m[i+1])
	}
	y, month, day := n[0], n[1], n[2]
	if len(m[1]) != 4 {
		if len(m[3]) != 4 {
			return "", errors.New("the year has no four digits; write the date like 2026-10-05")
		}
		y, month, day = n[2], n[0], n[1]
		switch {
		case month > 12:
			month, day = day, month
		case day <= 12 && day != month:
			return "", fmt.Errorf("it can be %s or %s; write the one that is meant", rules.NewDate(y, time.Month(month), day), rules.NewDate(y, time.Month(day), month))
		}
	}
	d, err := rules.ParseDate(fmt.Sprintf("%04d-%02d-%02d", y, month, day))
	if err != nil {
		return "", fmt.Errorf("there is no such date as %s; write one that exists, like 2026-10-05", quoted(text))
	}
	return d.String(), nil
}

func (x *Enrolling) dates(text string) (string, error) {
	var out []string
	for _, part := range splitList(text) {
		d, err := x.date(part)
		if err != nil {
			return "", err
		}
		out = append(out, d)
	}
	return strings.Join(out, ", "), nil
}

// clockTime reads a time of day: 9:00, 09:00, 9 am, 6:30 PM.
func (x *Enrolling) clockTime(text string) (string, error) {
	m := timeForm.FindStringSubmatch(strings.ToLower(strings.TrimSpace(text)))
	if m != nil && (m[2] != "" || m[3] != "") {
		h, _ := strconv.Atoi(m[1])
		minute, _ := strconv.Atoi(m[2])
		good := h < 24 && minute < 60
		if m[3] != "" {
			good = h >= 1 && h <= 12 && minute < 60
			h = h%12 + map[string]int{"a": 0, "p": 12}[m[3]]
		}
		if good {
			return Clock(h*60 + minute).String(), nil
		}
	}
	return "", errors.New("it is no time of day that can be read; write it like 09:00 or 6:30 pm")
}

// number reads a phone number in any usual writing; one without a country code
// is of the clinic's country.
func (x *Enrolling) number(text string) (string, error) {
	text = strings.TrimSpace(text)
	if !numberForm.MatchString(text) {
		if strings.ContainsAny(text, "eE") && strings.Contains(text, "+") {
			return "", errors.New("the spreadsheet has shortened this number; give the column the format of text, and enter it again")
		}
		return "", errors.New("it is no phone number; write digits only, without letters or an extension")
	}
	number, err := phonenumbers.Parse(text, x.region)
	switch {
	case err != nil && x.region == "ZZ" && !strings.HasPrefix(text, "+"):
		return "", errors.New("it has no country code; begin it with + (the clinic's own phone in " + settingsFile + " has none to go by)")
	case err != nil || phonenumbers.IsPossibleNumberWithReason(number) != phonenumbers.IS_POSSIBLE:
		return "", errors.New("it has too few or too many digits for a phone number; write it whole, with the area code")
	}
	return phonenumbers.Format(number, phonenumbers.INTERNATIONAL), nil
}

// side reads the affected side, which charts shorten.
func (x *Enrolling) side(text string) (string, error) {
	text = strings.ToLower(strings.TrimSpace(text))
	switch text {
	case "l", "lt":
		text = "left"
	case "r", "rt":
		text = "right"
	case "b", "bilateral":
		text = "both"
	}
	if !slices.Contains(affectedWords, text) {
		return "", errors.New("it is no side; write " + oneOf(affectedWords))
	}
	return text, nil
}

// several reads a list; none and no are an empty one.
func (x *Enrolling) several(text string) (string, error) {
	if word := strings.ToLower(strings.TrimSpace(text)); word == "none" || word == "no" || word == "-" {
		return "", nil
	}
	return strings.ToLower(strings.Join(splitList(text), ", ")), nil
}

// tongue reads a language by its code or its name.
func (x *Enrolling) tongue(text string) (string, error) {
	text = strings.ToLower(strings.TrimSpace(text))
	for code, names := range map[string][]string{"en": {"english", "inglés", "ingles"}, "es": {"spanish", "español", "espanol"}} {
		if slices.Contains(names, text) {
			text = code
		}
	}
	return text, nil
}
