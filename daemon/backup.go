package daemon

import (
	"bufio"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"filippo.io/age"

	"stepgate/config"
	"stepgate/daemon/control"
	"stepgate/daemon/journal"
)

// Copy is a backup that was made.
type Copy struct {
	File      string    `json:"file"`
	At        time.Time `json:"at"`
	Bytes     int64     `json:"bytes"`
	Events    int       `json:"events"` // all of them verified, before they were encrypted
	Encrypted bool      `json:"encrypted"`
	Dropped   []string  `json:"dropped"` // older copies that the keep rule took away
}

// copyName is what backups are called; anything else in their folder is left
// alone.
var copyName = regexp.MustCompile(`^journal-(\d{8}T\d{6}Z)(?:-(\d+))?\.db(\.age)?$`)

const copyStamp = "20060102T150405Z"

// makeCopy writes a backup: aside, verified, encrypted if a key is given, and
// only then under its name. to is the file's path; empty: a name by time in the
// folder of b.
func makeCopy(ctx context.Context, j *journal.Journal, b *config.Backups, to string, now time.Time) (*Copy, error) {
	c := &Copy{At: now.UTC(), Dropped: []string{}, File: to}
	recipient := ""
	if b != nil {
		recipient = b.EncryptTo
	}
	c.Encrypted = recipient != ""
	if to == "" {
		c.File = freeName(b.Dir, now, c.Encrypted)
	}
	if err := os.MkdirAll(filepath.Dir(c.File), 0o700); err != nil {
		return nil, fmt.Errorf("back up: %w", err)
	}
	if _, err := os.Lstat(c.File); !errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("back up: %s is there already", c.File)
	}
	if err := c.write(ctx, j, recipient); err != nil {
		return nil, fmt.Errorf("back up: %w", err)
	}
	if to == "" && b != nil {
		var err error
		if c.Dropped, err = dropCopies(b.Dir, b.Keep); err != nil {
			return c, fmt.Errorf("back up: old copies: %w", err)
		}
	}
	return c, nil
}

// freeName is the name of a copy made now. A second one in the same second has
// a number behind the time.
func freeName(dir string, now time.Time, encrypted bool) string {
	for n := 1; ; n++ {
		name := "journal-" + now.UTC().Format(copyStamp)
		if n > 1 {
			name += "-" + strconv.Itoa(n)
		}
		name += ".db"
		if encrypted {
			name += ".age"
		}
		if path := filepath.Join(dir, name); !exists(path) {
			return path
		}
	}
}

func (c *Copy) write(ctx context.Context, j *journal.Journal, recipient string) error {
	plain, err := os.CreateTemp(filepath.Dir(c.File), ".copy-*")
	if err != nil {
		return err
	}
	defer func() { _ = os.Remove(plain.Name()) }() // gone already if it was renamed
	err = j.Backup(ctx, plain)
	if err := errors.Join(err, plain.Sync(), plain.Close()); err != nil {
		return err
	}
	rep, err := journal.VerifyFile(plain.Name())
	if err != nil {
		return err
	}
	c.Events = rep.Events
	whole := plain.Name()
	if recipient != "" {
		whole += ".age"
		defer func() { _ = os.Remove(whole) }()
		if err := encrypt(plain.Name(), whole, recipient); err != nil {
			return err
		}
	}
	info, err := os.Stat(whole)
	if err != nil {
		return err
	}
	c.Bytes = info.Size()
	if err := os.Rename(whole, c.File); err != nil {
		return err
	}
	return syncDir(filepath.Dir(c.File))
}

// encrypt writes a file so that only the holder of the private key can read
// it: the format of age, age-encryption.org/v1.
func encrypt(from, to, recipient string) (err error) {
	r, err := age.ParseX25519Recipient(recipient)
	if err != nil {
		return errors.New("encrypt to: this is no public key of age")
	}
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer func() { _ = in.Close() }() // read only
	out, err := os.OpenFile(to, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, out.Sync(), out.Close()) }()
	w, err := age.Encrypt(out, r)
	if err != nil {
		return err
	}
	if _, err := io.Copy(w, in); err != nil {
		return err
	}
	return w.Close()
}

// decrypt gives the content of an encrypted copy with the keys in a file.
func decrypt(in io.Reader, identities string) (io.Reader, error) {
	if identities == "" {
		return nil, errors.New("the copy is encrypted; name the file of its private key with --identity")
	}
	f, err := os.Open(identities)
	if err != nil {
		return nil, err
	}
	defer func() { _ = f.Close() }() // read only
	keys, err := age.ParseIdentities(f)
	if err != nil {
		return nil, fmt.Errorf("%s holds no private key of age", identities)
	}
	out, err := age.Decrypt(in, keys...)
	if err != nil {
		return nil, errors.New("the copy was encrypted to another key, or is damaged")
	}
	return out, nil
}

// encrypted tells an encrypted copy by how it begins, and gives the content from
// its beginning.
func encrypted(in io.Reader) (bool, io.Reader) {
	b := bufio.NewReader(in)
	head, _ := b.Peek(len("age-encryption.org/"))
	return string(head) == "age-encryption.org/", b
}

// copies are the backups in a folder, newest first.
func copies(dir string) ([]string, error) {
	found, err := os.ReadDir(dir)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	var names []string
	for _, e := range found {
		if e.Type().IsRegular() && copyName.MatchString(e.Name()) {
			names = append(names, e.Name())
		}
	}
	slices.SortFunc(names, func(a, b string) int {
		return newerFirst(copyName.FindStringSubmatch(a), copyName.FindStringSubmatch(b))
	})
	return names, nil
}

// newerFirst orders names by time, then by the number of those of one second.
func newerFirst(a, b []string) int {
	n, _ := strconv.Atoi(a[2]) // none: the first
	m, _ := strconv.Atoi(b[2])
	return cmp.Or(strings.Compare(b[1], a[1]), cmp.Compare(m, n))
}

// dropCopies removes all but the newest backups.
func dropCopies(dir string, keep int) ([]string, error) {
	names, err := copies(dir)
	dropped := []string{}
	if err != nil || len(names) <= keep {
		return dropped, err
	}
	for _, n := range names[keep:] {
		if err := os.Remove(filepath.Join(dir, n)); err != nil {
			return dropped, err
		}
		dropped = append(dropped, n)
	}
	return dropped, syncDir(dir)
}

func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// backUpIfDue makes the scheduled backup once its time has come. One that
// fails is tried again with the next tick, and health tells.
func (s *Service) backUpIfDue(ctx context.Context) {
	c := s.Clinic()
	if c == nil || c.Backups == nil || c.Backups.At == "" || s.o.Made {
		return
	}
	now := s.o.Clock.Now()
	due, ok := lastFired(c.Backups.At, c.Zone, now)
	if !ok {
		return
	}
	names, err := copies(c.Backups.Dir)
	if err == nil && len(names) > 0 && copyName.FindStringSubmatch(names[0])[1] >= due.UTC().Format(copyStamp) {
		return
	}
	made, err := makeCopy(ctx, s.o.Journal, c.Backups, "", now)
	switch {
	case ctx.Err() != nil:
	case err != nil:
		s.o.Log.ErrorContext(ctx, "backup.failed", "error", safeError(err))
		s.trouble("backup", "the backup failed; look at the disk and the rights of the folder under backup:")
	default:
		s.untrouble("backup")
		s.o.Log.InfoContext(ctx, "backup.made", "bytes", made.Bytes, "events", made.Events, "dropped", len(made.Dropped))
	}
}

// CopyJournal makes a backup by command: through the service that runs, or of
// the file where none does.
func CopyJournal(ctx context.Context, dir, to string, getenv func(string) string) (*Copy, error) {
	c, problems := config.Load(dir, getenv)
	if c == nil {
		return nil, problems.Errors()
	}
	if to == "" && c.Backups == nil {
		return nil, errors.New("no folder for backups; write backup: {dir: backups} into stepgate.yaml, or name a file with --to")
	}
	path := filepath.Join(c.Data, "journal.db")
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		return nil, ErrNoJournal
	}
	j, err := journal.Open(path, journal.Options{})
	if errors.Is(err, journal.ErrLocked) {
		var made Copy
		return &made, control.Post(ctx, c.Data, "/v1/backup?to="+url.QueryEscape(to), &made)
	}
	if err != nil {
		return nil, err
	}
	defer func() { _ = j.Close() }()
	return makeCopy(ctx, j, c.Backups, to, time.Now())
}
