package journal

import (
	"cmp"
	"context"
	"fmt"
	"io"
)

// Backup writes a copy of the journal as it is now; updates go on meanwhile,
// with the exception that [Journal.Verify] names. The copy is whole only if
// Backup returns nil, so w should be a file aside that is checked with
// [VerifyFile] and renamed. Freed pages are copied as zeros: what was erased
// is not in the copy, even before the journal itself is compacted.
func (j *Journal) Backup(ctx context.Context, w io.Writer) error {
	out := &copying{ctx: ctx, from: j.file, w: w}
	err := j.View(func(tx *Tx) error {
		if _, err := tx.c.btx.WriteTo(out); err != nil {
			return cmp.Or(out.err, err) // bbolt wraps by text
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("back up journal: %w", err)
	}
	return nil
}

// copying writes what it is given with the free pages blanked, and fails once
// its context is done. It keeps its latest error.
type copying struct {
	ctx  context.Context
	from io.ReaderAt // the file that is copied
	w    io.Writer
	err  error

	at   int64 // how far it has come
	page int64 // size; 0: not known yet
	free map[int64]bool
	buf  []byte
}

func (c *copying) Write(p []byte) (n int, err error) {
	if c.err = c.ctx.Err(); c.err == nil && c.page == 0 {
		c.err = c.begin(p)
	}
	if c.err == nil {
		n, c.err = c.w.Write(c.blanked(p))
		c.at += int64(n)
	}
	return n, c.err
}

// begin reads from the first page what is free. The page that lists it is not
// used for anything else while the copy's transaction lasts.
func (c *copying) begin(p []byte) error {
	if len(p) < pageHeader+64 {
		return fmt.Errorf("%w: a copy begins with %d bytes", ErrDamaged, len(p))
	}
	meta := p[pageHeader:]
	c.page, c.free = int64(native.Uint32(meta[8:])), map[int64]bool{}
	f := &pageFile{r: c.from, size: c.page, end: native.Uint64(meta[40:])}
	f.used = make([]bool, f.end)
	ids, err := f.listed(native.Uint64(meta[32:]))
	for ; len(ids) >= 8; ids = ids[8:] {
		c.free[int64(native.Uint64(ids))] = true
	}
	return err
}

// blanked returns p with zeros for what lies in free pages.
func (c *copying) blanked(p []byte) []byte {
	c.buf = append(c.buf[:0], p...)
	end := c.at + int64(len(p))
	for at := c.at; at < end; {
		id := at / c.page
		next := min((id+1)*c.page, end)
		if c.free[id] {
			clear(c.buf[at-c.at : next-c.at])
		}
		at = next
	}
	return c.buf
}
