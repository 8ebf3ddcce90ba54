package notify

import (
	"context"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

func spoolMessage() Message {
	m := textMessage()
	m.To = "pat"
	return m
}

// files lists a folder of the spool, dot files included.
func files(t *testing.T, parts ...string) []string {
	t.Helper()
	entries, err := os.ReadDir(filepath.Join(parts...))
	if err != nil && !os.IsNotExist(err) {
		t.Fatal(err)
	}
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}

func fileContent(t *testing.T, parts ...string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(parts...))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func TestSpoolSend(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "spool")
	s := NewSpool(dir, SpoolOptions{})
	m := spoolMessage()
	// sha256 of the key, by sha256sum: printf p1/2026-10-05 | sha256sum
	const name = "20261005T130000Z-5bbf2496bdc3"
	if r := s.Settle(t.Context(), m); r != (Result{Status: Retry, Code: "absent"}) {
		t.Errorf("settle before: %+v", r)
	}
	var written []fs.FileInfo
	for range 2 {
		if r := s.Send(t.Context(), m); r != (Result{Status: Sent, ID: name}) {
			t.Errorf("send: %+v", r)
		}
		info, err := os.Lstat(filepath.Join(dir, "pat", "out", name+".txt"))
		if err != nil {
			t.Fatal(err)
		}
		written = append(written, info)
	}
	if !os.SameFile(written[0], written[1]) {
		t.Error("the second try wrote another file")
	}
	if r := s.Settle(t.Context(), m); r != (Result{Status: Sent, ID: name}) {
		t.Errorf("settle after: %+v", r)
	}
	if got := files(t, dir, "pat", "out"); !slices.Equal(got, []string{name + ".txt"}) {
		t.Errorf("files %q", got)
	}
	if got := fileContent(t, dir, "pat", "out", name+".txt"); got != m.Text+"\n" {
		t.Errorf("holds %q", got)
	}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		info, err := d.Info()
		if err != nil {
			return err
		}
		want := fs.FileMode(0o600)
		if d.IsDir() {
			want = 0o700
		}
		if info.Mode().Perm() != want {
			t.Errorf("%s has mode %v, want %v", d.Name(), info.Mode().Perm(), want)
		}
		return nil
	})
	if err != nil {
		t.Error(err)
	}
}

func TestSpoolNamesSortByTime(t *testing.T) {
	m := spoolMessage()
	early := outName(m)
	m.At = m.At.Add(time.Second).In(time.FixedZone("x", -5*3600))
	m.Key = "another"
	if late := outName(m); early >= late || !strings.HasPrefix(late, "20261005T130001Z-") {
		t.Errorf("%s then %s", early, late)
	}
}

func TestSpoolMail(t *testing.T) {
	dir := t.TempDir()
	s := NewSpool(dir, SpoolOptions{})
	m := spoolMessage()
	m.Subject, m.HTML = "Hold today\r\nBcc: x@example.com", "<p>rest</p>"
	r := s.Send(t.Context(), m)
	if r.Status != Sent {
		t.Fatalf("%+v", r)
	}
	want := "Subject: Hold today  Bcc: x@example.com\n\n" + m.Text + "\n"
	if got := fileContent(t, dir, "pat", "out", r.ID+".txt"); got != want {
		t.Errorf("holds %q", got)
	}
	if got := fileContent(t, dir, "pat", "out", r.ID+".html"); got != "<p>rest</p>" {
		t.Errorf("html %q", got)
	}
}

func TestSpoolUnsafeContacts(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "spool")
	s := NewSpool(dir, SpoolOptions{})
	for _, to := range []string{"", ".", "..", "../x", "a/b", `a\b`, ".hidden", "a\x00b", "a\nb", strings.Repeat("a", 129)} {
		m := spoolMessage()
		m.To = to
		want := Result{Status: Rejected, Code: "contact", BadContact: true}
		if r := s.Send(t.Context(), m); r != want {
			t.Errorf("send to %q: %+v", to, r)
		}
		if r := s.Settle(t.Context(), m); r != want {
			t.Errorf("settle to %q: %+v", to, r)
		}
	}
	if got := files(t, dir); got != nil {
		t.Errorf("made %q", got)
	}
}

func TestSpoolDiskTrouble(t *testing.T) {
	dir := t.TempDir()
	s := NewSpool(dir, SpoolOptions{})
	m := spoolMessage()
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if r := s.Send(ctx, m); r != (Result{Status: Retry, Code: "canceled"}) {
		t.Errorf("canceled: %+v", r)
	}
	// A file where a folder should be.
	if err := os.WriteFile(filepath.Join(dir, "pat"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if r := s.Send(t.Context(), m); r != (Result{Status: Retry, Code: "disk"}) {
		t.Errorf("send: %+v", r)
	}
	if r := s.Settle(t.Context(), m); r != (Result{Status: Unknown, Code: "disk"}) {
		t.Errorf("settle: %+v", r)
	}
}

// A failed write leaves nothing behind that looks like a message.
func TestSpoolFailedWriteLeavesNothing(t *testing.T) {
	dir := t.TempDir()
	s := NewSpool(dir, SpoolOptions{})
	m := spoolMessage()
	m.HTML = "<p>x</p>"
	// A folder in the place of the HTML file makes its rename fail.
	blocked := filepath.Join(dir, "pat", "out", outName(m)+".html")
	if err := os.MkdirAll(blocked, 0o700); err != nil {
		t.Fatal(err)
	}
	if r := s.Send(t.Context(), m); r != (Result{Status: Retry, Code: "disk"}) {
		t.Errorf("send: %+v", r)
	}
	if got := files(t, dir, "pat", "out"); !slices.Equal(got, []string{outName(m) + ".html"}) {
		t.Errorf("left %q", got)
	}
	if err := os.Remove(blocked); err != nil {
		t.Fatal(err)
	}
	if r := s.Send(t.Context(), m); r.Status != Sent {
		t.Errorf("again: %+v", r)
	}
}
