package daemon

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"stepgate/config"
	"stepgate/daemon/journal"
)

// Restored is what a restore did.
type Restored struct {
	File     string `json:"file"`             // the journal
	Replaced string `json:"replaced"`         // where the one before is now; "": there was none
	Events   int    `json:"events"`           // verified
	Erased   int    `json:"erased"`           // people who were erased since the copy was made, and are again
	At       string `json:"newest,omitempty"` // when the newest event of the copy happened
}

// ThereError says that a folder has a journal already.
type ThereError struct{ Path string }

func (e ThereError) Error() string {
	return e.Path + " is there already; name --force to put the copy in its place (it is kept beside it)"
}

// Restore puts a copy in the place of a clinic's journal. The copy is verified
// first, and nothing is touched if it is not whole. Erasures that the journal in
// place knows of are applied to the copy again. Nobody may hold the journal.
func Restore(ctx context.Context, from, dir, identities string, force bool, getenv func(string) string) (*Restored, error) {
	data := config.DataDir(dir)
	path := filepath.Join(data, "journal.db")
	if err := os.MkdirAll(data, 0o700); err != nil {
		return nil, fmt.Errorf("restore: %w", err)
	}
	_, err := os.Lstat(path)
	there := !errors.Is(err, fs.ErrNotExist)
	if there && !force {
		return nil, ThereError{path}
	}
	aside, err := unpack(from, data, identities)
	if err != nil {
		return nil, fmt.Errorf("restore: %w", err)
	}
	defer func() { _ = os.Remove(aside) }() // gone already if it was put in place
	rep, err := journal.VerifyFile(aside)
	if err != nil {
		return nil, fmt.Errorf("restore: the copy is not whole: %w", err)
	}
	out := &Restored{File: path, Events: rep.Events}
	var erasures []journal.Erasure
	if there {
		if erasures, err = journal.ErasuresIn(path); errors.Is(err, journal.ErrLocked) {
			return nil, HeldError{Data: data}
		} else if err != nil {
			// One that is damaged can't be asked; it stays beside, and a person is told.
			return nil, fmt.Errorf("restore: the journal in place can't be read for erasures: %w; move it away first", err)
		}
	}
	if err := out.applyAgain(ctx, aside, erasures); err != nil {
		return nil, fmt.Errorf("restore: %w", err)
	}
	if there {
		out.Replaced = filepath.Join(data, "journal-replaced-"+time.Now().UTC().Format(copyStamp)+".db")
		if err := os.Rename(path, out.Replaced); err != nil {
			return nil, fmt.Errorf("restore: %w", err)
		}
	}
	// What is kept of the files may be older than the erasures; a start reads them.
	if err := errors.Join(config.Forget(data, nil), os.Rename(aside, path), syncDir(data)); err != nil {
		return nil, fmt.Errorf("restore: %w", err)
	}
	return out, nil
}

// unpack writes a copy into the data folder, decrypted.
func unpack(from, data, identities string) (path string, err error) {
	in, err := os.Open(from)
	if err != nil {
		return "", err
	}
	defer func() { _ = in.Close() }() // read only
	secret, plain := encrypted(in)
	if secret {
		if plain, err = decrypt(plain, identities); err != nil {
			return "", err
		}
	}
	out, err := os.CreateTemp(data, ".restore-*")
	if err != nil {
		return "", err
	}
	_, err = io.Copy(out, plain)
	if err = errors.Join(err, out.Sync(), out.Close()); err != nil {
		_ = os.Remove(out.Name())
		return "", err
	}
	return out.Name(), nil
}

// applyAgain erases again whom the journal in place says was erased.
func (r *Restored) applyAgain(ctx context.Context, path string, list []journal.Erasure) error {
	j, err := journal.Open(path, journal.Options{})
	if err != nil {
		return err
	}
	var ids []string
	err = j.Update(ctx, func(tx *journal.Tx) (err error) {
		if at := tx.LastAt(); !at.IsZero() {
			r.At = at.UTC().Format(time.RFC3339)
		}
		ids, err = tx.ReapplyErasures(list, time.Now())
		return err
	})
	if err := errors.Join(err, j.Close()); err != nil {
		return err
	}
	if r.Erased = len(ids); r.Erased > 0 {
		_, _, err = journal.Compact(path)
	}
	return err
}
