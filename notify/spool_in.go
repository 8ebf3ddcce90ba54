package notify

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// ErrHalfWritten says that a file may still be being written: everything else
// was taken, but not everything was heard.
var ErrHalfWritten = errors.New("spool: an answer is half written")

// errChanged says that a file was written to, or another put in its place,
// while it was taken. Its new contents are read the next time.
var errChanged = errors.New("spool: an answer changed while it was taken")

// maxAnswer is the most a file may hold, in bytes: ten times the longest text
// there is.
const maxAnswer = 16 << 10

// waiting is a file that may be an answer.
type waiting struct {
	contact string
	name    string
	info    fs.FileInfo
}

// tag names a file in the log without telling whose it is.
func (w waiting) tag() string {
	sum := sha256.Sum256([]byte(w.contact + "\x00" + w.name))
	return hex.EncodeToString(sum[:6])
}

// Collect takes every answer that was dropped in, oldest first, and moves
// each to read/ once take has committed it. A crash in between gives the same
// message again under the same ID.
//
// A file is an answer if it is a regular file whose name does not begin with a
// dot or end in .tmp, .part or ~. Over 16 KiB it goes to refused/ and is
// logged as spool.refused. Without a newline at its end it may be half
// written: until it has settled it stays, is logged as spool.half_written, and
// Collect returns [ErrHalfWritten] after taking the others. If take fails,
// Collect stops there, so that a person's answers stay in order.
func (s *Spool) Collect(ctx context.Context, take Take) error {
	files, err := s.waiting()
	errs := []error{err}
	for _, w := range files {
		if err := ctx.Err(); err != nil {
			return fmt.Errorf("collect spool: %w", err)
		}
		in, ok, err := s.read(w)
		if err != nil {
			errs = append(errs, err)
			continue
		}
		if !ok {
			continue
		}
		if err := take(ctx, in); err != nil {
			return fmt.Errorf("take an answer from the spool: %w", err)
		}
		if err := s.moveTo("read", w, in.ID); err != nil {
			errs = append(errs, err)
		}
	}
	return errors.Join(errs...)
}

// waiting lists the files that may be answers, by time and name. What can be
// listed is listed even if a folder can't be read.
func (s *Spool) waiting() ([]waiting, error) {
	if err := os.MkdirAll(s.dir, 0o700); err != nil {
		return nil, fmt.Errorf("make spool folder: %w", bare(err))
	}
	contacts, err := os.ReadDir(s.dir)
	if err != nil {
		return nil, fmt.Errorf("read spool folder: %w", bare(err))
	}
	var (
		files []waiting
		errs  []error
	)
	for _, c := range contacts {
		if !c.IsDir() || !SafeContact(c.Name()) {
			continue
		}
		more, err := listIn(s.dir, c.Name())
		files = append(files, more...)
		errs = append(errs, err)
	}
	slices.SortFunc(files, func(a, b waiting) int {
		return cmp.Or(
			a.info.ModTime().Compare(b.info.ModTime()),
			cmp.Compare(a.name, b.name),
			cmp.Compare(a.contact, b.contact),
		)
	})
	return files, errors.Join(errs...)
}

func listIn(dir, contact string) ([]waiting, error) {
	in := filepath.Join(dir, contact, "in")
	// A link would lead out of the spool.
	info, err := os.Lstat(in)
	if errors.Is(err, fs.ErrNotExist) || err == nil && !info.IsDir() {
		return nil, nil
	}
	entries, err := os.ReadDir(in)
	if err != nil {
		return nil, fmt.Errorf("read spool folder: %w", bare(err))
	}
	var files []waiting
	for _, e := range entries {
		if !e.Type().IsRegular() || unfinished(e.Name()) {
			continue
		}
		info, err := e.Info()
		if errors.Is(err, fs.ErrNotExist) {
			continue // renamed by its writer meanwhile
		}
		if err != nil {
			return files, fmt.Errorf("read spool folder: %w", bare(err))
		}
		files = append(files, waiting{contact, e.Name(), info})
	}
	return files, nil
}

// unfinished tells names that writers use for files they have not finished.
func unfinished(name string) bool {
	return strings.HasPrefix(name, ".") || strings.HasSuffix(name, ".tmp") ||
		strings.HasSuffix(name, ".part") || strings.HasSuffix(name, "~")
}

// read reads one file. It is false where there is nothing to take: the file is
// gone, or was refused.
func (s *Spool) read(w waiting) (Incoming, bool, error) {
	body, err := readRegular(filepath.Join(s.dir, w.contact, "in", w.name), w.info)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return Incoming{}, false, nil
	case err != nil:
		return Incoming{}, false, fmt.Errorf("read answer %s: %w", w.tag(), bare(err))
	}
	id := answerID(w, body)
	if len(body) > maxAnswer {
		s.log.Warn("spool.refused", "file", w.tag(), "reason", "size")
		return Incoming{}, false, s.moveTo("refused", w, id)
	}
	whole := bytes.HasSuffix(body, []byte("\n"))
	// A time far ahead is a clock gone wrong, not a file just written.
	if age := time.Since(w.info.ModTime()); !whole && age.Abs() < s.settle {
		s.log.Warn("spool.half_written", "file", w.tag())
		return Incoming{}, false, ErrHalfWritten
	}
	in := Incoming{ID: id, From: w.contact, Text: answerText(body), At: w.info.ModTime().UTC()}
	if s.now != nil {
		in.At = s.now().UTC()
	}
	return in, true, nil
}

// readRegular reads one byte more than an answer may have, of the very file
// that was listed. It never waits on a pipe nor follows a link put in the
// file's place.
func readRegular(path string, listed fs.FileInfo) ([]byte, error) {
	f, err := os.OpenFile(path, os.O_RDONLY|syscall.O_NOFOLLOW|syscall.O_NONBLOCK, 0)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	body, err := io.ReadAll(io.LimitReader(f, maxAnswer+1))
	if err != nil {
		return nil, err
	}
	// Looked at after reading, so that a write in between is seen.
	info, err := f.Stat()
	if err != nil {
		return nil, err
	}
	if !sameFile(info, listed) {
		return nil, errChanged
	}
	return body, nil
}

// sameFile tells whether a file is still the one listed, with nothing written
// to it since.
func sameFile(a, b fs.FileInfo) bool {
	return os.SameFile(a, b) && a.Mode().IsRegular() &&
		a.Size() == b.Size() && a.ModTime().Equal(b.ModTime())
}

// answerID is the same for the same file read twice and another for any other
// file: made of contact, name, time of the file and what it holds. It is a
// hash so that it can be logged.
func answerID(w waiting, body []byte) string {
	sum := sha256.Sum256(body)
	all := sha256.Sum256([]byte(w.contact + "\x00" + w.name + "\x00" +
		strconv.FormatInt(w.info.ModTime().UnixNano(), 10) + "\x00" + string(sum[:])))
	return "spool-" + hex.EncodeToString(all[:16])
}

// answerText is the text of an answer: without the mark that some editors put
// before it and the line ends after it.
func answerText(body []byte) string {
	text := strings.ToValidUTF8(string(body), "\ufffd")
	return strings.TrimRight(strings.TrimPrefix(text, "\ufeff"), "\r\n")
}

// moveTo moves a file out of in/, unless it changed since it was listed. It
// keeps its name; where an earlier file has that name, it takes its ID.
func (s *Spool) moveTo(folder string, w waiting, id string) error {
	from := filepath.Join(s.dir, w.contact, "in", w.name)
	dir := filepath.Join(s.dir, w.contact, folder)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return fmt.Errorf("move answer %s: %w", w.tag(), bare(err))
	}
	info, err := os.Lstat(from)
	if err != nil {
		return fmt.Errorf("move answer %s: %w", w.tag(), bare(err))
	}
	if !sameFile(info, w.info) {
		return fmt.Errorf("move answer %s: %w", w.tag(), errChanged)
	}
	to := filepath.Join(dir, w.name)
	if _, err := os.Lstat(to); !errors.Is(err, fs.ErrNotExist) {
		to = filepath.Join(dir, id+".txt")
	}
	if err := os.Rename(from, to); err != nil {
		return fmt.Errorf("move answer %s: %w", w.tag(), bare(err))
	}
	return nil
}
