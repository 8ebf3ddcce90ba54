package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"sync/atomic"
	"time"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/notify"
)

// carrier is a carrier on this machine that takes every text, as fast as it can
// or after a while. It does no more than read the form and answer, so that as
// little as can be of what is measured is its own.
type carrier struct {
	api   string
	took  atomic.Int64
	after time.Duration
	srv   *http.Server
}

func newCarrier(after time.Duration) (*carrier, error) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return nil, err
	}
	k := &carrier{api: "http://" + l.Addr().String(), after: after}
	k.srv = &http.Server{Handler: k, ReadHeaderTimeout: time.Minute}
	go func() { _ = k.srv.Serve(l) }()
	return k, nil
}

func (k *carrier) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if err := r.ParseForm(); err != nil || r.PostForm.Get("Body") == "" {
		http.Error(w, "no text", http.StatusBadRequest)
		return
	}
	if k.after > 0 {
		time.Sleep(k.after)
	}
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(http.StatusCreated)
	fmt.Fprintf(w, `{"sid":"SM%032x","status":"queued","num_segments":"1"}`, k.took.Add(1))
}

func (k *carrier) close() error { return k.srv.Close() }

// client is the real client of that carrier.
func (k *carrier) client() (*notify.SMS, error) {
	return clientOf(k.api)
}

func clientOf(api string) (*notify.SMS, error) {
	return notify.NewSMS(notify.SMSConfig{Account: account, Token: token, Numbers: []string{ours}, API: api})
}

// texting is a service whose texts go to a carrier in this process.
type texting struct {
	*service
	carrier *carrier
	sms     *notify.SMS
	number  *config.SMSNumber // its rate can be set until the first text waits
}

// texting opens a service of so many patients; its carrier takes a text after
// so long, and its number so many segments a second.
func (b *bench) texting(ctx context.Context, people int, after time.Duration, rate float64) (*texting, error) {
	k, err := newCarrier(after)
	if err != nil {
		return nil, err
	}
	sms, err := k.client()
	if err != nil {
		return nil, errors.Join(err, k.close())
	}
	ch := texts(sms, rate)
	s, err := open(ctx, b.dir, people, workers, ch, journal.Options{})
	if err != nil {
		return nil, errors.Join(err, k.close())
	}
	return &texting{service: s, carrier: k, sms: sms, number: &ch.Numbers[0]}, nil
}

func (t *texting) close() error { return errors.Join(t.service.close(), t.carrier.close()) }
