package config

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
)

// maxSecret is the most a secret's file may hold, in bytes.
const maxSecret = 64 << 10

var envName = regexp.MustCompile(`^[A-Za-z_][A-Za-z0-9_]*$`)

// secret fetches a secret from where the file says it is kept. No complaint
// repeats the name or path: someone may have put the secret itself there.
func (l *loader) secret(ref SecretRef) (Secret, bool) {
	if l.getenv == nil || ref.Bad || ref.Env == "" && ref.File == "" {
		return Secret{}, false
	}
	if ref.Env != "" {
		return l.secretFromEnv(ref)
	}
	return l.secretFromFile(ref)
}

func (l *loader) secretFromEnv(ref SecretRef) (Secret, bool) {
	if !envName.MatchString(ref.Env) {
		l.wrong(ref.At, "the env of "+ref.Key+" is no name of an environment variable",
			"write the variable's name here, and the secret into the variable")
		return Secret{}, false
	}
	value := strings.TrimSpace(l.getenv(ref.Env))
	if value == "" {
		l.wrong(ref.At, "the environment variable for "+ref.Key+" is not set",
			"set it where the daemon is started, or write "+ref.Key+": {file: PATH}")
		return Secret{}, false
	}
	return NewSecret(value), true
}

// credentials is the folder where systemd puts a service's credentials; a
// path may begin with it.
const credentials = "$CREDENTIALS_DIRECTORY"

func (l *loader) secretFromFile(ref SecretRef) (Secret, bool) {
	path, ok := l.secretPath(ref)
	if !ok {
		return Secret{}, false
	}
	value, readableByAll, err := readSecret(path)
	switch {
	case err != nil:
		l.wrong(ref.At, "the file of "+ref.Key+" can't be read: "+err.Error(),
			"write the secret into a file that the daemon can read, and its path here")
		return Secret{}, false
	case value == "":
		l.wrong(ref.At, "the file of "+ref.Key+" is empty", "write the secret into it")
		return Secret{}, false
	}
	if readableByAll {
		l.openToAll(ref)
	}
	return NewSecret(value), true
}

// secretPath is where a secret's file lies.
func (l *loader) secretPath(ref SecretRef) (string, bool) {
	rest, credential := strings.CutPrefix(ref.File, credentials+"/")
	if !credential {
		return l.abs(ref.File), true
	}
	base := l.getenv(credentials[1:])
	if base == "" {
		l.wrong(ref.At, "the file of "+ref.Key+" is a systemd credential, and there is none here",
			"start the daemon from its unit with LoadCredential=, or name another file")
		return "", false
	}
	return filepath.Join(base, rest), true
}

// readable is the path of a file, private or not, that is read later: it must
// be readable now. It is "" where no secret is fetched.
func (l *loader) readable(ref SecretRef, private bool) string {
	if l.getenv == nil {
		return ""
	}
	path, ok := l.secretPath(ref)
	if !ok {
		return ""
	}
	_, readableByAll, err := readSecret(path)
	switch {
	case err != nil:
		l.wrong(ref.At, "the file of "+ref.Key+" can't be read: "+err.Error(), "write the path of a file that the daemon can read")
		return ""
	case private && readableByAll:
		l.openToAll(ref)
	}
	return path
}

func (l *loader) openToAll(ref SecretRef) {
	l.warn(ref.At, "everyone on this machine can read the file of "+ref.Key, "take that right away: chmod 600")
}

// readSecret reads a secret's file and tells whether any user may read it.
// Its errors name no path.
func readSecret(path string) (value string, readableByAll bool, err error) {
	info, err := os.Stat(path)
	if err != nil {
		return "", false, plainError(err)
	}
	if !info.Mode().IsRegular() {
		return "", false, errors.New("it is not a plain file")
	}
	f, err := os.Open(path)
	if err != nil {
		return "", false, plainError(err)
	}
	defer f.Close()
	b, err := io.ReadAll(io.LimitReader(f, maxSecret+1))
	if err != nil {
		return "", false, plainError(err)
	}
	if len(b) > maxSecret {
		return "", false, errors.New("it is too long for a secret")
	}
	return strings.TrimSpace(string(b)), info.Mode().Perm()&0o004 != 0, nil
}

// plainError is what went wrong with a file, in words and without its path.
func plainError(err error) error {
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return errors.New("it does not exist")
	case errors.Is(err, fs.ErrPermission):
		return errors.New("permission denied")
	case errors.Is(err, syscall.ELOOP):
		return errors.New("its symbolic links lead in a circle")
	}
	if pe, ok := errors.AsType[*fs.PathError](err); ok {
		return pe.Err
	}
	return errors.New("reading failed")
}
