package daemon

import (
	"context"
	"errors"
	"io"
	"net"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"stepgate/config"
	"stepgate/daemon/caseload"
	"stepgate/daemon/control"
	"stepgate/daemon/journal"
	"stepgate/notify"
)

// spoolOnly are settings without carriers, so that serving opens no port.
func spoolOnly() string {
	settings, _, _ := strings.Cut(settingsYAML, "sms:\n")
	return settings
}

// folder is a clinic's folder for Serve, with nobody due for a long time.
func folder(t *testing.T) *clinic {
	t.Helper()
	p := onSpool("p-01")
	p.from = "2199-01-01"
	c := bareClinic(t, RealClock{}, p)
	c.settings = spoolOnly()
	c.write()
	return c
}

// serve serves a folder until the test has had its look.
func (c *clinic) serve(quick time.Duration, look func()) error {
	c.t.Helper()
	ctx, stop := context.WithCancel(c.t.Context())
	defer stop()
	ready, done := make(chan struct{}), make(chan error, 1)
	go func() {
		done <- Serve(ctx, ServeOptions{Dir: c.dir, Quick: quick, Getenv: env, Log: c.log(),
			Ready: func(*config.Clinic, bool) { close(ready) }})
	}()
	select {
	case <-ready:
		look()
		stop()
		return <-done
	case err := <-done:
		return err
	}
}

func TestServeAnswersAndStops(t *testing.T) {
	c := folder(t)
	for i := range 2 { // and can be started again
		err := c.serve(0, func() {
			look := NewLooker(c.dir, false, env)
			h, err := look.Health(t.Context())
			if err != nil || !h.OK {
				t.Errorf("health: %+v, %v", h, err)
			}
			if b, running, err := look.Board(t.Context(), caseload.Query{}); err != nil || !running || len(b.Rows) != 1 {
				t.Errorf("caseload: %+v, %v", b, err)
			}
			var held HeldError
			if i > 0 {
				return // waiting for the lock takes a second
			}
			if err := c.serve(0, func() {}); !errors.As(err, &held) {
				t.Errorf("a second serve on the same folder: %v", err)
			}
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	if _, err := NewLooker(c.dir, false, env).Health(t.Context()); !errors.Is(err, control.ErrNone) {
		t.Fatalf("health of a stopped service: %v", err)
	}
	wantGone(t, "daemon.(*Service)", "cron.(*Cron)", "journal.(*Journal)", "http.(*Server)")
}

func TestServeRefusesAFolderNeverAccepted(t *testing.T) {
	c := folder(t)
	c.settings = strings.Replace(c.settings, "hours:", "houres:", 1)
	c.write()
	var problems config.Problems
	if err := c.serve(0, func() { t.Error("it is served") }); !errors.As(err, &problems) {
		t.Fatalf("serve: %v", err)
	}
	if _, err := os.Stat(filepath.Join(c.data(), "journal.db")); err == nil {
		t.Fatal("a journal was made for a folder that is not good")
	}
}

func TestServeGoesOnWithTheLastGoodFiles(t *testing.T) {
	c := folder(t)
	if err := c.serve(0, func() {}); err != nil {
		t.Fatal(err)
	}
	c.writeFile("programs/steady.yaml", "nonsense")
	err := c.serve(0, func() {
		look := NewLooker(c.dir, false, env)
		h, err := look.Health(t.Context())
		if err != nil || h.OK || !strings.Contains(strings.Join(h.Problems, "\n"), "programs/steady.yaml") {
			t.Errorf("health: %+v, %v", h, err)
		}
		if b, running, err := look.Board(t.Context(), caseload.Query{}); err != nil || !running || len(b.Rows) != 1 {
			t.Errorf("caseload: %+v, %v", b, err)
		}
	})
	if err != nil {
		t.Fatal(err)
	}
}

// Quick time never reaches a real person, whatever the files say.
func TestQuickTimeStaysOnTheSpool(t *testing.T) {
	c := bareClinic(t, RealClock{}, withMail(onSMS("p-01", phone1), "rosa@example.net"), onSpool("p-02"))
	c.patients[0].more += "    sender: \"" + ourNumber + "\"\n"
	c.settings = strings.Replace(c.settings, "alerts: {spool: clinician-box}",
		"admin: {email: admin@example.com}\nweb: {listen: 127.0.0.1:8091, public: https://plans.example.com}\n"+
			"alerts: {email: clinician@example.com, backup: {email: b@example.com}, cover: [{from: 2026-10-01, to: 2026-10-02, email: c@example.com}]}", 1)
	c.write()
	good, problems := c.load()
	if good == nil {
		t.Fatal(problems)
	}
	q := quickClinic(good)
	for _, a := range []config.Address{q.Admin, q.Backup, q.Enrollments.At(0).Fallback} {
		if a != (config.Address{}) {
			t.Errorf("quick time writes to %+v", a)
		}
	}
	if len(q.Cover) > 0 || q.Web != nil || q.Digest != "" || q.Enrollments.At(0).Sender != "" {
		t.Error("quick time has pages, digests, covers or senders")
	}
	for _, a := range []config.Address{q.Alerts, q.Enrollments.At(0).Address, q.Enrollments.At(1).Address} {
		if a.Channel != "spool" || !notify.SafeContact(a.To) || a.To == phone1 {
			t.Errorf("quick time writes to %+v", a)
		}
	}
	if q.SMS != nil || q.Email != nil || q.Data == good.Data || strings.HasPrefix(good.Spool.Dir, q.Spool.Dir) {
		t.Errorf("quick time shares carriers or folders: %s, %s", q.Data, q.Spool.Dir)
	}
	if good.Enrollments.At(0).Address.To != phone1 || good.SMS == nil {
		t.Error("the good clinic was changed")
	}
	chs, err := openChannels(q, &Service{o: Options{Journal: c.j, Made: true, Log: c.log()}}, c.clock)
	if err != nil || len(chs.byName) != 1 {
		t.Fatalf("channels of quick time: %v, %v", chs, err)
	}
	if err := c.serve(time.Minute, func() {
		h, err := NewLooker(c.dir, true, env).Health(t.Context())
		if err != nil || !h.Quick {
			t.Errorf("health: %+v, %v", h, err)
		}
	}); err != nil {
		t.Fatal(err)
	}
}

// A text that is being committed when the service is stopped is committed,
// and acknowledged; after that the web hook is closed.
func TestStopWaitsForTheWebHook(t *testing.T) {
	set := &SetClock{}
	c := bareClinic(t, set, onSMS("p-01", phone1))
	c.set = set
	c.at("2026-10-04 07:00") // a day before anything is due
	c.open()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	inside, release := make(chan struct{}), make(chan struct{})
	hook := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		close(inside)
		<-release
		in := notify.Incoming{ID: "IN1", From: phone1, Text: r.FormValue("Body"), At: c.clock.Now()}
		if err := c.s.Take("sms")(r.Context(), in); err != nil {
			w.WriteHeader(http.StatusServiceUnavailable)
		}
	})
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() {
		done <- c.s.Run(ctx, RunOptions{Load: c.load, Web: []WebServer{{hook, l}}})
	}()
	client := &http.Client{Transport: &http.Transport{DisableKeepAlives: true}}
	answer := make(chan int, 1)
	post := func() (int, error) {
		res, err := client.PostForm("http://"+l.Addr().String(), url.Values{"Body": {"P9"}})
		if err != nil {
			return 0, err
		}
		_, _ = io.Copy(io.Discard, res.Body)
		return res.StatusCode, res.Body.Close()
	}
	go func() {
		status, err := post()
		if err != nil {
			t.Error(err)
		}
		answer <- status
	}()
	<-inside
	stop()
	select {
	case err := <-done:
		t.Fatalf("it stopped with a text half taken: %v", err)
	default:
	}
	close(release)
	if status := <-answer; status != http.StatusOK {
		t.Errorf("the carrier was answered %d", status)
	}
	if err := <-done; err != nil {
		t.Fatal(err)
	}
	if n := len(c.events("p-01", journal.Heard)); n != 1 {
		t.Errorf("heard %d times", n)
	}
	if _, err := post(); err == nil {
		t.Error("the web hook is still open")
	}
	wantGone(t, "daemon.(*Service).Run", "cron.(*Cron)", "http.(*Server)")
}

// wantGone checks that no goroutine is left in one of these places. One that
// is on its way out is let out first.
func wantGone(t *testing.T, places ...string) {
	t.Helper()
	left := ""
	for range 10_000 {
		buf := make([]byte, 1<<20)
		stacks := string(buf[:runtime.Stack(buf, true)])
		left = ""
		for _, p := range places {
			if strings.Contains(stacks, p) {
				left = stacks
			}
		}
		if left == "" {
			return
		}
		runtime.Gosched()
	}
	t.Fatalf("goroutines are left behind:\n%s", left)
}
