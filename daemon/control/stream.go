package control

import (
	"context"
	"io"
	"net/http"
	"time"
)

// Stream is an answer that is written as it is made, for what should not lie
// in memory whole. An error after its first byte cuts the connection, so that
// nobody takes a part for the whole.
type Stream func(w io.Writer) error

// serve writes the answer. However long all of it takes, each piece must be
// taken within the longest an answer may.
func (s Stream) serve(w http.ResponseWriter) {
	out := &piecewise{w: w, deadlines: http.NewResponseController(w)}
	err := s(out)
	switch {
	case err != nil && out.begun:
		panic(http.ErrAbortHandler) // the server's way to cut a connection; it logs nothing
	case err != nil:
		refuse(w, err)
	}
}

// piecewise gives each piece its own time.
type piecewise struct {
	w         io.Writer
	deadlines *http.ResponseController
	begun     bool
}

func (p *piecewise) Write(b []byte) (int, error) {
	p.begun = true
	if err := p.deadlines.SetWriteDeadline(time.Now().Add(longest)); err != nil {
		return 0, err
	}
	return p.w.Write(b)
}

// Copy asks as [Get] does and writes a [Stream] to w. On an error w may hold a
// part of it.
func Copy(ctx context.Context, data, path string, w io.Writer) error {
	return ask(ctx, http.MethodGet, data, path, func(r io.Reader) error {
		_, err := io.Copy(w, r)
		return err
	})
}
