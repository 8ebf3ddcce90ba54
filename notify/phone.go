package notify

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"
)

// Phone is a person's end of the texts: a phone that a stand-in carrier on
// this machine lends, which shows the texts that come in and sends answers.
type Phone struct {
	Carrier string        // the stand-in's address, such as http://127.0.0.1:8099
	Number  string        // the person's number
	To      string        // where answers go; empty: to who texted last
	Wait    time.Duration // how long to look on after the input ended
}

var (
	// ErrNoCarrier says that nobody answers at the stand-in's address.
	ErrNoCarrier = errors.New("the stand-in carrier can't be reached")
	// ErrNoPhone says that what answers there lends no phones.
	ErrNoPhone = errors.New("what answers there is no stand-in carrier")
)

// phoneText is a text as the stand-in shows it.
type phoneText struct {
	ID   int       `json:"id"`
	At   time.Time `json:"at"`
	From string    `json:"from"`
	Text string    `json:"text"`
}

// phoneAnswer bounds one request: the stand-in holds one at most 25 s, and
// posts a text on to the service, twice with 15 s each at the longest.
const phoneAnswer = time.Minute

// Run shows texts and sends the lines of in, until in ends or ctx is done.
func (p Phone) Run(ctx context.Context, in io.Reader, show func(at time.Time, text string)) error {
	address, err := p.address()
	if err != nil {
		return err
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	l := &phoneLine{address: address, client: &http.Client{
		Timeout: phoneAnswer, Transport: http.DefaultTransport.(*http.Transport).Clone()}}
	defer l.client.CloseIdleConnections()
	err = p.run(ctx, l, in, show)
	if ctx.Err() != nil {
		return nil // asked to end; what was under way was cut off
	}
	return err
}

func (p Phone) run(ctx context.Context, l *phoneLine, in io.Reader, show func(at time.Time, text string)) error {
	earlier, err := l.fetch(ctx, 0, "0s")
	if err != nil {
		return err
	}
	after := p.show(earlier, 0, handsetPast, show)
	lines, failed := readLines(ctx, in)
	texts, lost := l.follow(ctx, after)
	var end <-chan time.Time
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-end:
			last, err := l.fetch(ctx, after, "0s")
			p.show(last, after, -1, show)
			return err
		case line, ok := <-lines:
			if !ok {
				lines, end = nil, time.After(p.Wait)
				continue
			}
			if err := l.send(ctx, p.To, line); err != nil {
				return err
			}
		case err := <-failed:
			return fmt.Errorf("read answers: %w", err)
		case list := <-texts:
			after = p.show(list, after, -1, show)
		case err := <-lost:
			return err
		}
	}
}

// Check tells what is wrong with the addresses, asking nobody.
func (p Phone) Check() error {
	_, err := p.address()
	return err
}

// address is where the stand-in lends this phone.
func (p Phone) address() (string, error) {
	u, err := url.Parse(p.Carrier)
	switch {
	case err != nil || u.Scheme != "http" || !loopback(u.Hostname()) || u.User != nil || u.RawQuery != "" || u.Path != "" && u.Path != "/":
		return "", errors.New("a stand-in carrier is on this machine, at an address such as http://127.0.0.1:8099")
	case !e164.MatchString(p.Number) || p.To != "" && !e164.MatchString(p.To):
		return "", errors.New("a phone number is written like +15035550120")
	}
	return "http://" + u.Host + "/phone/" + p.Number, nil
}

// show shows the texts of others; of more than last, the latest. It gives back
// the id of the last text, at least after.
func (p Phone) show(list []phoneText, after, last int, show func(time.Time, string)) int {
	var others []phoneText
	for _, t := range list {
		after = max(after, t.ID)
		if t.From != p.Number {
			others = append(others, t)
		}
	}
	if last >= 0 && len(others) > last {
		others = others[len(others)-last:]
	}
	for _, t := range others {
		show(t.At, t.Text)
	}
	return after
}

// phoneLine is the way to one phone at the stand-in.
type phoneLine struct {
	client  *http.Client
	address string
}

// follow fetches what comes in after a text, until ctx is done.
func (l *phoneLine) follow(ctx context.Context, after int) (<-chan []phoneText, <-chan error) {
	texts, lost := make(chan []phoneText), make(chan error, 1)
	go func() {
		for {
			list, err := l.fetch(ctx, after, "25s")
			if err != nil {
				lost <- err
				return
			}
			for _, t := range list {
				after = max(after, t.ID)
			}
			select {
			case texts <- list:
			case <-ctx.Done():
				return
			}
		}
	}()
	return texts, lost
}

// fetch asks for the texts after an id; where there is none the stand-in waits
// for one this long.
func (l *phoneLine) fetch(ctx context.Context, after int, wait string) ([]phoneText, error) {
	body, err := l.call(ctx, http.MethodGet, l.address+"?after="+strconv.Itoa(after)+"&wait="+wait, nil)
	if err != nil {
		return nil, err
	}
	var list []phoneText
	if err := json.Unmarshal(body, &list); err != nil {
		return nil, ErrNoPhone
	}
	return list, nil
}

func (l *phoneLine) send(ctx context.Context, to, text string) error {
	_, err := l.call(ctx, http.MethodPost, l.address, url.Values{"to": {to}, "text": {text}})
	return err
}

func (l *phoneLine) call(ctx context.Context, method, address string, form url.Values) ([]byte, error) {
	req, err := http.NewRequestWithContext(ctx, method, address, strings.NewReader(form.Encode()))
	if err != nil {
		return nil, fmt.Errorf("ask the stand-in carrier: %w", err)
	}
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	resp, err := l.client.Do(req)
	if err != nil {
		return nil, ErrNoCarrier
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(io.LimitReader(resp.Body, 16<<20))
	switch {
	case err != nil:
		return nil, ErrNoCarrier
	case resp.StatusCode == http.StatusBadRequest:
		return nil, errors.New("the stand-in carrier did not take it: " + strings.TrimSpace(string(body)))
	case resp.StatusCode/100 != 2:
		return nil, ErrNoPhone
	}
	return body, nil
}
