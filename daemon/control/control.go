// Package control is the local socket through which other commands look at a
// running service, because only one process can hold the journal. It is
// read-only: nothing that comes in over it changes anything.
package control

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"time"
)

// maxPath is the longest socket path that works everywhere (sun_path is 104
// bytes on BSD and macOS, 108 on Linux).
const maxPath = 100

// Path is where the socket of a data folder lies: in it, or where that path
// would be too long, in a private folder under the temporary one.
func Path(data string) string {
	p := filepath.Join(data, "control.sock")
	if len(p) <= maxPath {
		return p
	}
	sum := sha256.Sum256([]byte(data))
	return filepath.Join(os.TempDir(), fmt.Sprintf("stepgate-%d-%s", os.Getuid(), hex.EncodeToString(sum[:6])), "control.sock")
}

// Listen opens the socket, mode 0600. A file that a dead process left in its
// place is removed; the caller holds the journal, so no other lives.
func Listen(data string) (net.Listener, error) {
	path := Path(data)
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return nil, fmt.Errorf("control socket: %w", err)
	}
	if filepath.Dir(path) != filepath.Clean(data) {
		if err := ours(filepath.Dir(path)); err != nil {
			return nil, fmt.Errorf("control socket: %w", err)
		}
	}
	if err := os.Remove(path); err != nil && !errors.Is(err, os.ErrNotExist) {
		return nil, fmt.Errorf("control socket: %w", err)
	}
	l, err := net.Listen("unix", path)
	if err != nil {
		return nil, fmt.Errorf("control socket: %w", err)
	}
	if err := os.Chmod(path, 0o600); err != nil {
		_ = l.Close()
		return nil, fmt.Errorf("control socket: %w", err)
	}
	return l, nil
}

// ours checks a folder under the temporary one, where anybody may have made it
// before: who owns it could put a socket of their own in our place.
func ours(dir string) error {
	info, err := os.Lstat(dir)
	if err != nil {
		return err
	}
	st, ok := info.Sys().(*syscall.Stat_t)
	if !info.IsDir() || info.Mode().Perm()&0o077 != 0 || ok && int(st.Uid) != os.Getuid() {
		return fmt.Errorf("the folder %s is not this user's alone; remove it", dir)
	}
	return nil
}

// Answer gives the answer to one question, or nil for "no such thing". It is
// sent as JSON, or by itself if it is a [Stream].
type Answer func(r *http.Request) (any, error)

// Serve answers questions until the listener is closed. Paths are those of
// the map and answer GET; one that does something begins with "POST ".
func Serve(l net.Listener, answers map[string]Answer) *http.Server {
	mux := http.NewServeMux()
	for path, answer := range answers {
		if !strings.HasPrefix(path, "POST ") {
			path = "GET " + path
		}
		mux.HandleFunc(path, func(w http.ResponseWriter, r *http.Request) {
			v, err := answer(r)
			stream, streams := v.(Stream)
			switch {
			case err != nil:
				refuse(w, err)
			case streams:
				stream.serve(w)
			case v == nil:
				http.Error(w, "not found", http.StatusNotFound)
			default:
				w.Header().Set("Content-Type", "application/json")
				_ = json.NewEncoder(w).Encode(v)
			}
		})
	}
	srv := &http.Server{Handler: mux, ReadHeaderTimeout: 5 * time.Second, WriteTimeout: longest}
	go func() { _ = srv.Serve(l) }()
	return srv
}

// refuse answers with an error.
func refuse(w http.ResponseWriter, err error) {
	words := "failed" // the error may tell whose data it was about
	if told := (toldError{}); errors.As(err, &told) {
		words = told.Error()
	}
	http.Error(w, words, http.StatusInternalServerError)
}

// toldError is an error whose words the asker may read.
type toldError struct{ error }

func (e toldError) Unwrap() error { return e.error }

// Told lets the words of an error reach the asker; nil stays nil.
func Told(err error) error {
	if err == nil {
		return nil
	}
	return toldError{err}
}

// longest is how long an answer may take: a backup of a large journal.
const longest = 10 * time.Minute

// ErrNone says that no service listens for this data folder.
var ErrNone = errors.New("no running service")

// ErrNotFound says that the service knows no such thing.
var ErrNotFound = errors.New("not found")

// Get asks the service of a data folder and decodes its answer into v. It is
// ErrNone where no service runs.
func Get(ctx context.Context, data, path string, v any) error {
	return ask(ctx, http.MethodGet, data, path, into(v))
}

// Post has the service of a data folder do something, as Get asks.
func Post(ctx context.Context, data, path string, v any) error {
	return ask(ctx, http.MethodPost, data, path, into(v))
}

// into decodes an answer.
func into(v any) func(io.Reader) error {
	return func(r io.Reader) error { return json.NewDecoder(r).Decode(v) }
}

func ask(ctx context.Context, method, data, path string, read func(io.Reader) error) error {
	dialer := &net.Dialer{Timeout: time.Second}
	client := &http.Client{Transport: &http.Transport{
		DialContext: func(ctx context.Context, _, _ string) (net.Conn, error) {
			return dialer.DialContext(ctx, "unix", Path(data))
		},
		DisableKeepAlives: true,
	}}
	req, err := http.NewRequestWithContext(ctx, method, "http://stepgate"+path, nil)
	if err != nil {
		return fmt.Errorf("ask service: %w", err)
	}
	res, err := client.Do(req)
	if err != nil {
		var op *net.OpError
		if errors.As(err, &op) && op.Op == "dial" {
			return ErrNone
		}
		return fmt.Errorf("ask service: %w", err)
	}
	defer func() { _ = res.Body.Close() }()
	switch res.StatusCode {
	case http.StatusOK:
	case http.StatusNotFound:
		return ErrNotFound
	default:
		words, _ := io.ReadAll(io.LimitReader(res.Body, 4<<10)) // as far as it comes
		return fmt.Errorf("the service says: %s", strings.TrimSpace(string(words)))
	}
	if err := read(res.Body); err != nil {
		return fmt.Errorf("ask service: %w", err)
	}
	return nil
}
