package control

import (
	"context"
	"encoding/json"
	"errors"
	"io/fs"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
)

// shortDir is a folder whose path leaves room for a socket's name; t.TempDir
// has the test's name in it.
func shortDir(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "sg")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = os.RemoveAll(dir) })
	return dir
}

// long is a data folder whose own socket's path would be too long.
func long(dir string) string { return filepath.Join(dir, strings.Repeat("x", 120)) }

func listen(t *testing.T, data string, answers map[string]Answer) *http.Server {
	t.Helper()
	l, err := Listen(data)
	if err != nil {
		t.Fatal(err)
	}
	srv := Serve(l, answers)
	t.Cleanup(func() { _ = srv.Close() })
	return srv
}

// TestPath keeps the path within what every system takes, and apart for
// folders apart.
func TestPath(t *testing.T) {
	t.Setenv("TMPDIR", "/tmp")
	if got, want := Path("/srv/clinic/data"), "/srv/clinic/data/control.sock"; got != want {
		t.Errorf("Path = %s, want %s", got, want)
	}
	edge := "/" + strings.Repeat("d", maxPath-len("//control.sock"))
	if got := Path(edge); len(got) != maxPath || filepath.Dir(got) != edge {
		t.Errorf("a path of %d bytes is not in its folder: %s", maxPath, got)
	}
	a, b := Path(edge+"d"), Path(edge+"e")
	for _, p := range []string{a, b} {
		if len(p) > maxPath || !strings.HasPrefix(p, "/tmp/stepgate-") || filepath.Base(p) != "control.sock" {
			t.Errorf("one byte more gives %s", p)
		}
	}
	if a == b || a != Path(edge+"d") {
		t.Errorf("two folders share the path %s, or one has two", a)
	}
}

// TestAnswers asks and gets each kind of answer, in a folder's own socket and
// in one apart from it.
func TestAnswers(t *testing.T) {
	dir := shortDir(t)
	t.Setenv("TMPDIR", dir)
	for _, data := range []string{filepath.Join(dir, "data"), long(dir)} {
		listen(t, data, map[string]Answer{
			"/v1/thing/{id}": func(r *http.Request) (any, error) {
				return map[string]string{"id": r.PathValue("id"), "date": r.URL.Query().Get("date")}, nil
			},
			"/v1/none":   func(*http.Request) (any, error) { return nil, nil },
			"/v1/broken": func(*http.Request) (any, error) { return nil, errors.New("a secret of the journal's") },
			"/v1/text":   func(*http.Request) (any, error) { return "not a thing", nil },
		})
		var got struct{ ID, Date string }
		if err := Get(t.Context(), data, "/v1/thing/p%2F01?date=2026-10-05", &got); err != nil || got.ID != "p/01" || got.Date != "2026-10-05" {
			t.Errorf("got %+v, %v", got, err)
		}
		if err := Get(t.Context(), data, "/v1/none", &got); !errors.Is(err, ErrNotFound) {
			t.Errorf("no such thing: %v, want ErrNotFound", err)
		}
		if err := Get(t.Context(), data, "/v2/thing/1", &got); !errors.Is(err, ErrNotFound) {
			t.Errorf("no such question: %v, want ErrNotFound", err)
		}
		if err := Get(t.Context(), data, "/v1/broken", &got); err == nil || errors.Is(err, ErrNone) || errors.Is(err, ErrNotFound) || strings.Contains(err.Error(), "secret") {
			t.Errorf("an answer that failed: %v", err)
		}
		if err := Get(t.Context(), data, "/v1/text", &got); err == nil {
			t.Error("an answer of another shape was taken")
		}
	}
}

// TestReadOnly sends what is no question: nothing that comes in is acted on.
func TestReadOnly(t *testing.T) {
	data := shortDir(t)
	var asked atomic.Int32
	listen(t, data, map[string]Answer{
		"/v1/health": func(*http.Request) (any, error) { asked.Add(1); return true, nil },
	})
	client := &http.Client{Transport: &http.Transport{
		DialContext: func(ctx context.Context, _, _ string) (net.Conn, error) {
			return new(net.Dialer).DialContext(ctx, "unix", Path(data))
		},
	}}
	defer client.CloseIdleConnections()
	for _, method := range []string{http.MethodPost, http.MethodPut, http.MethodDelete, http.MethodPatch} {
		req, err := http.NewRequestWithContext(t.Context(), method, "http://stepgate/v1/health", strings.NewReader("{}"))
		if err != nil {
			t.Fatal(err)
		}
		res, err := client.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		_ = res.Body.Close()
		if res.StatusCode != http.StatusMethodNotAllowed {
			t.Errorf("%s: status %d, want 405", method, res.StatusCode)
		}
	}
	if n := asked.Load(); n != 0 {
		t.Errorf("the answer was asked for %d times", n)
	}
	if err := Get(t.Context(), data, "/v1/health", new(bool)); err != nil || asked.Load() != 1 {
		t.Errorf("a question: %v", err)
	}
}

// TestNoService tells "nobody runs" from everything else.
func TestNoService(t *testing.T) {
	data := shortDir(t)
	var v any
	if err := Get(t.Context(), data, "/v1/health", &v); !errors.Is(err, ErrNone) {
		t.Errorf("no socket: %v, want ErrNone", err)
	}
	// What a killed process leaves: a socket nobody listens on.
	l, err := net.Listen("unix", Path(data))
	if err != nil {
		t.Fatal(err)
	}
	l.(*net.UnixListener).SetUnlinkOnClose(false)
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	if err := Get(t.Context(), data, "/v1/health", &v); !errors.Is(err, ErrNone) {
		t.Errorf("a socket left behind: %v, want ErrNone", err)
	}
	// The next service takes its place.
	srv := listen(t, data, map[string]Answer{"/v1/health": func(*http.Request) (any, error) { return true, nil }})
	if err := Get(t.Context(), data, "/v1/health", &v); err != nil || v != true {
		t.Errorf("the next service: %v, %v", v, err)
	}
	if err := srv.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Lstat(Path(data)); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a service that ended leaves its socket: %v", err)
	}
	if err := Get(t.Context(), data, "/v1/health", &v); !errors.Is(err, ErrNone) {
		t.Errorf("after the end: %v, want ErrNone", err)
	}
}

// TestPrivate keeps others out: the socket is its owner's alone, and so is a
// folder made for it, which is not used if it is anybody else's business.
func TestPrivate(t *testing.T) {
	dir := shortDir(t)
	t.Setenv("TMPDIR", dir)
	for _, data := range []string{filepath.Join(dir, "data"), long(dir)} {
		listen(t, data, nil)
		for path, want := range map[string]fs.FileMode{Path(data): 0o600, filepath.Dir(Path(data)): 0o700} {
			info, err := os.Stat(path)
			if err != nil || info.Mode().Perm() != want {
				t.Errorf("%s: %v, %v; want mode %v", path, info.Mode(), err, want)
			}
		}
	}
	open := long(dir) + "/open"
	if err := os.Mkdir(filepath.Dir(Path(open)), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(filepath.Dir(Path(open)), 0o777); err != nil {
		t.Fatal(err)
	}
	if l, err := Listen(open); err == nil {
		_ = l.Close()
		t.Error("a folder that everybody may write to was used")
	}
	linked := long(dir) + "/linked"
	if err := os.Symlink(dir, filepath.Dir(Path(linked))); err != nil {
		t.Fatal(err)
	}
	if l, err := Listen(linked); err == nil {
		_ = l.Close()
		t.Error("a link in the folder's place was followed")
	}
}

// TestListenFails says what it tried, where the folder can't be made.
func TestListenFails(t *testing.T) {
	dir := shortDir(t)
	if err := os.WriteFile(filepath.Join(dir, "file"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	_, err := Listen(filepath.Join(dir, "file", "data"))
	if err == nil || !strings.HasPrefix(err.Error(), "control socket: ") {
		t.Errorf("Listen under a file: %v", err)
	}
}

// TestManyAtOnce asks from many goroutines.
func TestManyAtOnce(t *testing.T) {
	data := shortDir(t)
	listen(t, data, map[string]Answer{"/v1/echo/{n}": func(r *http.Request) (any, error) { return json.RawMessage(r.PathValue("n")), nil }})
	var wg sync.WaitGroup
	for i := range 50 {
		wg.Go(func() {
			var got int
			path := "/v1/echo/" + string(rune('0'+i%10))
			if err := Get(t.Context(), data, path, &got); err != nil || got != i%10 {
				t.Errorf("%s: %d, %v", path, got, err)
			}
		})
	}
	wg.Wait()
}
