package daemon

import (
	"crypto/tls"
	"fmt"
	"log/slog"
	"os"
	"sync"
	"time"
)

// certificate is the web listener's own, read again when one of its files
// changes. One that can't be read leaves the last good one in force.
type certificate struct {
	certFile, keyFile string
	log               *slog.Logger

	mu     sync.Mutex
	now    *tls.Certificate
	stamps [2]stamp  // of the files as last read
	bad    [2]stamp  // of the ones last refused
	look   time.Time // not before this again
}

// stamp tells two versions of a file apart.
type stamp struct {
	mod  time.Time
	size int64
}

// certificateLook is how often the files are looked at, at most.
const certificateLook = 10 * time.Second

// openCertificate reads a certificate. One that can't be read is an error.
func openCertificate(certFile, keyFile string, log *slog.Logger) (*certificate, error) {
	c := &certificate{certFile: certFile, keyFile: keyFile, log: log}
	if err := c.read(c.stampsNow()); err != nil {
		return nil, fmt.Errorf("web certificate: %w", err)
	}
	return c, nil
}

func (c *certificate) stampsNow() (s [2]stamp) {
	for i, path := range []string{c.certFile, c.keyFile} {
		if info, err := os.Stat(path); err == nil {
			s[i] = stamp{info.ModTime(), info.Size()}
		}
	}
	return s
}

func (c *certificate) read(stamps [2]stamp) error {
	pair, err := tls.LoadX509KeyPair(c.certFile, c.keyFile)
	if err != nil {
		return err
	}
	c.now, c.stamps = &pair, stamps
	return nil
}

// get gives the certificate in force, for a new connection.
func (c *certificate) get(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if now := time.Now(); !now.Before(c.look) {
		c.look = now.Add(certificateLook)
		c.refresh()
	}
	return c.now, nil
}

// refresh reads files that changed. Between the renewal of one file and of the
// other they may not fit; they are looked at again as long as they don't.
func (c *certificate) refresh() {
	stamps := c.stampsNow()
	if stamps == c.stamps {
		return
	}
	if err := c.read(stamps); err != nil {
		if stamps != c.bad {
			c.bad = stamps
			c.log.Warn("certificate.refused", "in_force_until", c.ends().UTC())
		}
		return
	}
	c.log.Info("certificate.loaded", "until", c.ends().UTC())
}

// ends is when the certificate in force does.
func (c *certificate) ends() time.Time {
	if c.now == nil || c.now.Leaf == nil {
		return time.Time{}
	}
	return c.now.Leaf.NotAfter
}

// Ends is when the certificate in force does. The files are looked at before.
func (c *certificate) Ends() time.Time {
	_, _ = c.get(nil)
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.ends()
}

// config is TLS 1.2 and up with HTTP/1.1, for which the limits are made. The
// cipher suites are the library's, which go without the weak ones.
func (c *certificate) config() *tls.Config {
	return &tls.Config{MinVersion: tls.VersionTLS12, GetCertificate: c.get, NextProtos: []string{"http/1.1"}}
}
