package notify

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"time"
	"unicode"
)

// SpoolOptions are what a spool can be told; the zero value will do.
type SpoolOptions struct {
	Log *slog.Logger // nil: silent

	// Settle is how long a file without a newline at its end is left alone:
	// it may be half written. Measured by the machine's clock, like the file
	// times it is compared with. 0: 5 s.
	Settle time.Duration

	// Now stamps incoming messages, for a made-up calendar. nil: the time of
	// the file.
	Now func() time.Time

	// NoSync leaves it to the system when bytes reach the disk: for made-up
	// calendars only, where a power cut costs nothing.
	NoSync bool
}

// defaultSettle, ours: longer than any editor takes to write a few lines.
const defaultSettle = 5 * time.Second

// Spool is the channel that needs no carrier: folders of files.
//
//	DIR/CONTACT/out/      messages to the person
//	DIR/CONTACT/in/       answers dropped in
//	DIR/CONTACT/read/     answers that were taken
//	DIR/CONTACT/refused/  files that can't be answers
//
// An outgoing file is named by the message's time and key, so that the names
// sort by time and a second try is the same file:
// 20261005T130000Z-0123456789ab.txt. It holds the text and a newline; a
// message with a subject has a Subject line and an empty line before it, and
// its HTML beside it as .html. A file appears whole or not at all.
//
// An answer is best written under a name that begins with a dot and then
// renamed. Folders are 0700 and files 0600: they hold what patients say.
type Spool struct {
	dir    string
	log    *slog.Logger
	settle time.Duration
	now    func() time.Time
	noSync bool
}

var (
	_ Sender   = (*Spool)(nil)
	_ Receiver = (*Spool)(nil)
)

// NewSpool makes a spool of a folder, which need not exist yet.
func NewSpool(dir string, opt SpoolOptions) *Spool {
	return &Spool{
		dir:    dir,
		log:    logger(opt.Log),
		settle: cmp.Or(opt.Settle, defaultSettle),
		now:    opt.Now,
		noSync: opt.NoSync,
	}
}

// SafeContact tells whether a contact can be a folder's name on the spool: no
// separator, no leading dot, no control character, at most 128 bytes.
func SafeContact(contact string) bool {
	return contact != "" && len(contact) <= 128 &&
		!strings.HasPrefix(contact, ".") &&
		!strings.ContainsAny(contact, `/\`) &&
		!strings.ContainsFunc(contact, unicode.IsControl)
}

// outName is the name of a message's file, without its ending.
func outName(m Message) string {
	sum := sha256.Sum256([]byte(m.Key))
	return m.At.UTC().Format("20060102T150405Z") + "-" + hex.EncodeToString(sum[:6])
}

// Send writes the message's file and makes it durable before it says Sent.
// A file that is there already is the same message, sent before.
func (s *Spool) Send(ctx context.Context, m Message) Result {
	if !SafeContact(m.To) {
		return Result{Status: Rejected, Code: "contact", BadContact: true}
	}
	if ctx.Err() != nil {
		return Result{Status: Retry, Code: "canceled"}
	}
	name := outName(m)
	out := filepath.Join(s.dir, m.To, "out")
	if err := s.put(out, name, m); err != nil {
		return Result{Status: Retry, Code: "disk"}
	}
	return Result{Status: Sent, ID: name}
}

// Settle looks for the message's file. The spool can always tell: what is not
// there was not sent.
func (s *Spool) Settle(_ context.Context, m Message) Result {
	if !SafeContact(m.To) {
		return Result{Status: Rejected, Code: "contact", BadContact: true}
	}
	name := outName(m)
	switch _, err := os.Lstat(filepath.Join(s.dir, m.To, "out", name+".txt")); {
	case err == nil:
		return Result{Status: Sent, ID: name}
	case errors.Is(err, fs.ErrNotExist):
		return Result{Status: Retry, Code: "absent"}
	}
	return Result{Status: Unknown, Code: "disk"}
}

// put writes the files of a message: the HTML first, for the text file is
// what says that the message was sent.
func (s *Spool) put(out, name string, m Message) error {
	if err := s.makeFolders(out); err != nil {
		return err
	}
	_, err := os.Lstat(filepath.Join(out, name+".txt"))
	if errors.Is(err, fs.ErrNotExist) {
		if m.HTML != "" {
			if err := writeWhole(out, name+".html", m.HTML, !s.noSync); err != nil {
				return err
			}
		}
		err = writeWhole(out, name+".txt", fileText(m), !s.noSync)
	}
	if err != nil {
		return err
	}
	return s.syncDir(out)
}

// syncDir makes the names in a folder durable.
func (s *Spool) syncDir(dir string) error {
	if s.noSync {
		return nil
	}
	return syncDir(dir)
}

// makeFolders makes a person's folders, durably; the one for answers too, for
// it is where the person writes.
func (s *Spool) makeFolders(out string) error {
	if info, err := os.Lstat(out); err == nil && info.IsDir() {
		return nil
	}
	contact := filepath.Dir(out)
	for _, dir := range []string{filepath.Join(contact, "in"), out} {
		if err := os.MkdirAll(dir, 0o700); err != nil {
			return fmt.Errorf("make spool folder: %w", bare(err))
		}
	}
	return errors.Join(s.syncDir(contact), s.syncDir(s.dir))
}

// fileText is what a message's file holds.
func fileText(m Message) string {
	text := strings.TrimRight(m.Text, "\n") + "\n"
	if m.Subject == "" {
		return text
	}
	subject := strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return ' '
		}
		return r
	}, m.Subject)
	return "Subject: " + subject + "\n\n" + text
}

// writeWhole writes a file that appears whole or not at all, and not before
// its bytes are on the disk, if they are to be synced. What a killed process
// left half written is written over by the next try.
func writeWhole(dir, name, text string, sync bool) (err error) {
	f, err := os.OpenFile(filepath.Join(dir, "."+name+".tmp"), os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return fmt.Errorf("make spool file: %w", bare(err))
	}
	defer func() {
		if err != nil {
			_ = os.Remove(f.Name())
		}
	}()
	_, err = f.WriteString(text)
	if sync && err == nil {
		err = f.Sync()
	}
	err = errors.Join(err, f.Close())
	if err == nil {
		err = os.Rename(f.Name(), filepath.Join(dir, name))
	}
	if err != nil {
		return fmt.Errorf("write spool file: %w", bare(err))
	}
	return nil
}

// syncDir makes the names in a folder durable.
func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return fmt.Errorf("sync spool folder: %w", bare(err))
	}
	if err := errors.Join(d.Sync(), d.Close()); err != nil {
		return fmt.Errorf("sync spool folder: %w", bare(err))
	}
	return nil
}

// bare takes the path, which names a contact, out of an error.
func bare(err error) error {
	var (
		path *fs.PathError
		link *os.LinkError
	)
	switch {
	case errors.As(err, &path):
		return path.Err
	case errors.As(err, &link):
		return link.Err
	}
	return err
}
