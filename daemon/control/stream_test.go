package control

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strings"
	"testing"
)

// A stream comes whole or not as one: what is cut off after its first byte is
// an error for whoever reads it, also where all of it was written at once.
func TestStream(t *testing.T) {
	data := shortDir(t)
	stream := func(pieces int, fail error) Answer {
		return func(*http.Request) (any, error) {
			return Stream(func(w io.Writer) error {
				for n := range pieces {
					if _, err := fmt.Fprintf(w, "piece %d\n", n); err != nil {
						return err
					}
				}
				return fail
			}), nil
		}
	}
	secret := errors.New("whose data it was")
	listen(t, data, map[string]Answer{
		"/v1/much": stream(100_000, nil), "/v1/nothing": stream(0, nil), "/v1/cut": stream(100_000, secret), "/v1/cut at once": stream(1, secret),
		"/v1/failed": stream(0, secret), "/v1/refused": stream(0, Told(errors.New("not today"))),
	})
	var want strings.Builder
	for n := range 100_000 {
		fmt.Fprintf(&want, "piece %d\n", n)
	}
	for path, text := range map[string]string{"/v1/much": want.String(), "/v1/nothing": ""} {
		var got bytes.Buffer
		if err := Copy(t.Context(), data, path, &got); err != nil || got.String() != text {
			t.Errorf("%s: %d bytes, %v", path, got.Len(), err)
		}
	}
	for path, words := range map[string]string{"/v1/cut": "EOF", "/v1/cut%20at%20once": "EOF", "/v1/failed": "the service says: failed", "/v1/refused": "not today"} {
		var got bytes.Buffer
		if err := Copy(t.Context(), data, path, &got); err == nil || !strings.Contains(err.Error(), words) || strings.Contains(err.Error(), "whose") {
			t.Errorf("%s: %d bytes, %v", path, got.Len(), err)
		}
	}
	if err := Copy(t.Context(), shortDir(t), "/v1/much", io.Discard); !errors.Is(err, ErrNone) {
		t.Errorf("no service: %v, want ErrNone", err)
	}
	broken := errors.New("the disk is full")
	if err := Copy(t.Context(), data, "/v1/much", failing{broken}); !errors.Is(err, broken) {
		t.Errorf("a reader that fails: %v", err)
	}
}

type failing struct{ err error }

func (f failing) Write([]byte) (int, error) { return 0, f.err }
