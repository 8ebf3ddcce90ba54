package main

import (
	"io"
	"net"
	"net/http"
	"path/filepath"
	"regexp"
	"syscall"
	"testing"
)

// TestDemoLive is the walk through the real thing: a phone in the terminal, a
// page in the browser, the commands it names, and patients who go on by
// themselves.
func TestDemoLive(t *testing.T) {
	t.Parallel()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address := l.Addr().String()
	_ = l.Close()
	dir := filepath.Join(t.TempDir(), "live")
	p := start(t, nil, "demo", "--live", "--dir", dir, "--day", "4s", "--reports", address)
	p.wait(p.out, "the phone", has("This is Ana's phone.", "http://"+address+"/", " release "+dir+" p-06"))
	p.wait(p.out, "the text of day 13", has("Sat Mar 14"))
	p.typed("P5")
	p.wait(p.out, "the answer", has("5 noted"))

	res, err := http.Get("http://" + address + "/")
	if err != nil {
		t.Fatal(err)
	}
	page, err := io.ReadAll(res.Body)
	_ = res.Body.Close()
	if err != nil || res.StatusCode != http.StatusOK || !has("Willow Bend Foot Clinic", "p-06")(string(page)) {
		t.Errorf("the page: %d, %v\n%s", res.StatusCode, err, page)
	}
	// Ben goes on by himself, Finn is released and goes on too.
	heard := regexp.MustCompile(`(?m)^.*Mar 1[4-9].*$`)
	waitUntil(t, "Ben's answers", func() bool {
		return heard.MatchString(wantRun(t, exitGood, nil, "patient", dir, "p-02", "--quick").out)
	})
	wantRun(t, exitGood, nil, "release", dir, "p-06", "--by", "your name", "--why", "seen at the clinic")
	waitUntil(t, "Finn's release", func() bool {
		return !has("paused")(wantRun(t, exitGood, nil, "explain", dir, "p-06", "--quick").out)
	})
	p.signal(syscall.SIGINT)
	p.wantEnd(exitGood)
}
