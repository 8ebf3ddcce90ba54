package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	bolt "go.etcd.io/bbolt"

	"stepgate/notify"
	"stepgate/notify/carriertest"
)

// posters is how many connections the carrier posts replies over.
const posters = 128

var quiet = slog.New(slog.DiscardHandler)

// poster posts signed replies as the carrier does.
type poster struct {
	to     string
	client *http.Client
}

func newPoster(to string) *poster {
	return &poster{to: to, client: &http.Client{Transport: &http.Transport{MaxIdleConnsPerHost: posters, MaxConnsPerHost: posters}}}
}

// post posts the reply of a patient. Each has an id of its own.
func (p *poster) post(person, id int) error {
	form := url.Values{"AccountSid": {account}, "MessageSid": {fmt.Sprintf("SM%032x", 1<<40+id)},
		"From": {number(person)}, "To": {ours}, "Body": {"D2"}, "NumMedia": {"0"}}
	req, err := http.NewRequest(http.MethodPost, p.to, strings.NewReader(form.Encode()))
	if err != nil {
		return err
	}
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	req.Header.Set("X-Twilio-Signature", carriertest.Sign(token, webhook, form))
	res, err := p.client.Do(req)
	if err != nil {
		return err
	}
	defer func() { _ = res.Body.Close() }()
	if _, err := io.Copy(io.Discard, res.Body); err != nil {
		return err
	}
	if res.StatusCode != http.StatusOK {
		return fmt.Errorf("a reply was answered %d", res.StatusCode)
	}
	return nil
}

// replies measures replies committed and acknowledged through the web hook,
// beside a handler that checks the same signature and puts one value a reply.
func (b *bench) replies(ctx context.Context) ([]row, error) {
	people := b.sized(20_000, 3_000)
	s, err := b.texting(ctx, people, 0, 1e6)
	if err != nil {
		return nil, err
	}
	if _, err := s.morning(ctx, begins, &s.carrier.took, people, true); err != nil { // a day to reply to
		return nil, err
	}
	plain, err := b.plain(ctx, s.sms, people)
	if err != nil {
		return nil, err
	}
	hook := httptest.NewServer(s.sms.Hook(webhook, s.Take("sms"), quiet))
	defer hook.Close()
	ours, err := storm(hook.URL, people)
	if err != nil {
		return nil, err
	}
	if err := s.close(); err != nil {
		return nil, err
	}
	return []row{{
		Name: "replies", What: fmt.Sprintf("%s replies committed and acknowledged through the web hook, %d connections", count(float64(people)), posters),
		Figure: perSecond(ours), Yardstick: "signature and one put a reply: " + perSecond(plain), Ratio: ours / plain,
		Target: "5,000/s and 0.5", Met: ours >= 5000 && ours/plain >= 0.5,
	}}, nil
}

// plain is the yardstick: the same hook, but what is taken is only put into a
// file, as many in one commit as wait for it.
func (b *bench) plain(ctx context.Context, sms *notify.SMS, people int) (float64, error) {
	db, err := bolt.Open(filepath.Join(b.dir, "plain.db"), 0o600, &bolt.Options{FreelistType: bolt.FreelistMapType})
	if err != nil {
		return 0, err
	}
	g := &group{db: db, in: make(chan put, posters)}
	done := make(chan struct{})
	go func() { defer close(done); g.run() }()
	hook := httptest.NewServer(sms.Hook(webhook, func(_ context.Context, in notify.Incoming) error {
		done := make(chan error, 1)
		g.in <- put{key: in.ID, value: in.Text, done: done}
		return <-done
	}, quiet))
	per, err := storm(hook.URL, people)
	hook.Close()
	close(g.in)
	<-done
	return per, errors.Join(err, db.Close(), ctx.Err())
}

// group puts what waits, all in one commit.
type group struct {
	db *bolt.DB
	in chan put
}

type put struct {
	key, value string
	done       chan error
}

func (g *group) run() {
	for first := range g.in {
		lot := []put{first}
		for more := true; more; {
			select {
			case p, ok := <-g.in:
				if more = ok; ok {
					lot = append(lot, p)
				}
			default:
				more = false
			}
		}
		err := g.db.Update(func(tx *bolt.Tx) error {
			to, err := tx.CreateBucketIfNotExists([]byte("replies"))
			for _, p := range lot {
				if err == nil {
					err = to.Put([]byte(p.key), []byte(p.value))
				}
			}
			return err
		})
		for _, p := range lot {
			p.done <- err
		}
	}
}

// storm posts a reply of everybody and returns how many a second were
// acknowledged.
func storm(to string, people int) (float64, error) {
	p := newPoster(to)
	defer p.client.CloseIdleConnections()
	var next atomic.Int64
	var posting sync.WaitGroup
	failed := make(chan error, posters)
	began := time.Now()
	for range posters {
		posting.Go(func() {
			for i := int(next.Add(1)); i <= people; i = int(next.Add(1)) {
				if err := p.post(i-1, i); err != nil {
					failed <- err
					return
				}
			}
		})
	}
	posting.Wait()
	took := time.Since(began)
	select {
	case err := <-failed:
		return 0, err
	default:
		return rate(people, took), nil
	}
}
