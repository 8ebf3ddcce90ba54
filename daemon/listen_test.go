package daemon

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"fmt"
	"math/big"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"stepgate/config"
)

// writeCertificate makes a certificate for this machine, with a serial number,
// in two files.
func writeCertificate(t *testing.T, dir string, serial int64) (cert, key string) {
	t.Helper()
	private, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	template := &x509.Certificate{SerialNumber: big.NewInt(serial), DNSNames: []string{"clinic.example.com"},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(90 * 24 * time.Hour)}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &private.PublicKey, private)
	if err != nil {
		t.Fatal(err)
	}
	secret, err := x509.MarshalPKCS8PrivateKey(private)
	if err != nil {
		t.Fatal(err)
	}
	cert, key = filepath.Join(dir, "web.pem"), filepath.Join(dir, "web.key")
	for path, block := range map[string]*pem.Block{cert: {Type: "CERTIFICATE", Bytes: der}, key: {Type: "PRIVATE KEY", Bytes: secret}} {
		if err := os.WriteFile(path, pem.EncodeToMemory(block), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return cert, key
}

// shown is the serial number of the certificate that a server shows, and the
// version of TLS.
func shown(t *testing.T, address string, most uint16) (int64, uint16, error) {
	t.Helper()
	c, err := tls.Dial("tcp", address, &tls.Config{InsecureSkipVerify: true, MaxVersion: most}) // our own, made above
	if err != nil {
		return 0, 0, err
	}
	defer func() { _ = c.Close() }()
	state := c.ConnectionState()
	return state.PeerCertificates[0].SerialNumber.Int64(), state.Version, nil
}

// The service's own certificate: TLS 1.2 and up, read again when it is renewed,
// and kept where the new one is no good.
func TestOwnCertificate(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	dir := t.TempDir()
	cert, key := writeCertificate(t, dir, 1)
	address := c.openDoor(func(served *config.Clinic) {
		served.Web = &config.Web{Listen: served.SMS.Listen, Public: "https://clinic.example.com", CertificateFile: cert, KeyFile: key}
	})
	for most, want := range map[uint16]uint16{tls.VersionTLS11: 0, tls.VersionTLS12: tls.VersionTLS12, tls.VersionTLS13: tls.VersionTLS13} {
		if serial, got, err := shown(t, address, most); got != want || want > 0 && (err != nil || serial != 1) {
			t.Errorf("TLS up to %x: %x, certificate %d, %v", most, got, serial, err)
		}
	}
	client := &http.Client{Transport: &http.Transport{DisableKeepAlives: true, TLSClientConfig: &tls.Config{InsecureSkipVerify: true}}}
	form, signature := signedText(textID("aa", 1), phone1, "D P1")
	if status, _, err := send(client, "POST", "https://"+address+"/sms", "192.0.2.1", form.Encode(), signature); status != 200 || err != nil {
		t.Errorf("a text over TLS: %d, %v", status, err)
	}
	if status, _, err := send(client, "GET", "https://"+address+"/a/nothing", "192.0.2.1", "", ""); status != 404 || err != nil {
		t.Errorf("a page over TLS: %d, %v", status, err)
	}
	if f := c.figure("stepgate_certificate_expiry_timestamp_seconds"); f[""] < float64(time.Now().Unix()) {
		t.Errorf("its end is shown as %v", f)
	}

	look := func() { // as if it were time to look again
		c.s.cert.mu.Lock()
		c.s.cert.look = time.Time{}
		c.s.cert.mu.Unlock()
	}
	writeCertificate(t, dir, 22)
	look()
	if serial, _, err := shown(t, address, 0); serial != 22 || err != nil {
		t.Errorf("after a renewal: %d, %v", serial, err)
	}
	if err := os.WriteFile(key, []byte("half a ke"), 0o600); err != nil {
		t.Fatal(err)
	}
	for range 3 {
		look()
		if serial, _, err := shown(t, address, 0); serial != 22 || err != nil {
			t.Errorf("with a bad file: %d, %v", serial, err)
		}
	}
	if c.logged("certificate.loaded") != 1 || c.logged("certificate.refused") != 1 {
		t.Errorf("the log:\n%s", c.logs)
	}
	writeCertificate(t, dir, 333)
	look()
	if serial, _, err := shown(t, address, 0); serial != 333 || err != nil {
		t.Errorf("once it is put right: %d, %v", serial, err)
	}
	served := *c.s.Clinic()
	served.Web = &config.Web{Listen: "127.0.0.1:0", CertificateFile: cert, KeyFile: filepath.Join(dir, "none.key")}
	if _, err := c.s.openDoors(&served, map[string][]route{"127.0.0.1:0": nil}); err == nil || !strings.Contains(err.Error(), "web certificate") {
		t.Errorf("a start without the key: %v", err)
	}
}

// fakeConn is a connection from an address that no test can come from.
type fakeConn struct {
	net.Conn
	from net.Addr
	shut bool
}

func (f *fakeConn) RemoteAddr() net.Addr { return f.from }
func (f *fakeConn) Close() error         { f.shut = true; return nil }

func connFrom(last byte) *fakeConn {
	return &fakeConn{from: &net.TCPAddr{IP: net.IPv4(192, 0, 2, last), Port: 1}}
}

type closedListener struct{ net.Listener }

func (closedListener) Close() error { return nil }

func TestDoorwayMakesRoom(t *testing.T) {
	d := newDoorway(closedListener{}, func(string) {})
	d.most, d.each = 4, 2
	now := time.Unix(1_000_000, 0)
	in := func(c *fakeConn) *doorConn {
		t.Helper()
		got, out, _ := d.admit(c, now)
		if got == nil || out != nil {
			t.Fatalf("not let in: %v, %v", got, out)
		}
		return got
	}
	a, b := in(connFrom(1)), in(connFrom(1))
	third := connFrom(1)
	if got, out, _ := d.admit(third, now); got != nil || out != third {
		t.Fatal("one address has more than its share")
	}
	now = now.Add(young)
	work, idle := in(connFrom(2)), in(connFrom(3))
	work.heard, work.work, idle.heard = true, true, true
	// Full: the oldest that said nothing goes, then the next.
	for _, want := range []*doorConn{a, b} {
		if got, out, _ := d.admit(connFrom(4), now); got == nil || out != want.Conn {
			t.Fatalf("who went is %v", out)
		}
	}
	// Those left that said nothing are young: who is idle goes, not who is at work.
	if got, out, _ := d.admit(connFrom(5), now); got == nil || out != idle.Conn {
		t.Fatalf("who went is %v", out)
	}
	if got, out, wait := d.admit(connFrom(6), now); got != nil || out != nil || wait != young {
		t.Fatalf("let in: %v, %v, %s", got, out, wait)
	}
	if err := work.Close(); err != nil {
		t.Fatal(err)
	}
	in(connFrom(6))
	if d.open.Len() != 4 || d.holds[addressOf("192.0.2.1").net] != 0 || len(d.holds) != 3 {
		t.Fatalf("%d open, %v", d.open.Len(), d.holds)
	}
	_ = a.Close() // it went already: nobody else's place is given back
	if d.open.Len() != 4 {
		t.Fatalf("%d open", d.open.Len())
	}
}

// A door that is full closes all the same.
func TestAFullDoorCloses(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	d := newDoorway(l, func(string) {})
	d.most = 0
	done := make(chan error, 1)
	go func() { _, err := d.Accept(); done <- err }()
	c, err := net.Dial("tcp", l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = c.Close() }()
	if err := d.Close(); err != nil {
		t.Fatal(err)
	}
	if err := <-done; !errors.Is(err, net.ErrClosed) {
		t.Fatalf("accept: %v", err)
	}
}

// freeAddress is one of this machine where nobody listens.
func freeAddress(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = l.Close() }()
	return l.Addr().String()
}

// What [Serve] opens: the pages behind the guard and under the clinic's own
// certificate, and monitoring, which the pages' address does not show.
func TestServeOpensItsDoors(t *testing.T) {
	c := folder(t)
	cert, key := writeCertificate(t, t.TempDir(), 7)
	pages, metrics := freeAddress(t), freeAddress(t)
	c.settings += fmt.Sprintf("metrics: %s\nweb: {listen: %s, public: https://clinic.example.com/plan, certificate: %s, key: {file: %s}}\n", metrics, pages, cert, key)
	c.write()
	client := &http.Client{Transport: &http.Transport{DisableKeepAlives: true, TLSClientConfig: &tls.Config{InsecureSkipVerify: true}}}
	err := c.serve(0, func() {
		for url, want := range map[string]int{
			"http://" + metrics + "/healthz": 200, "http://" + metrics + "/metrics": 200, "http://" + metrics + "/r/x": 404,
			"https://" + pages + "/plan/a/x": 404, "https://" + pages + "/plan/r/x": 404, "https://" + pages + "/healthz": 404, "https://" + pages + "/metrics": 404,
		} {
			status, said, err := send(client, "GET", url, "192.0.2.1", "", "")
			page := strings.Contains(url, "/plan/")
			if err != nil || status != want || status == 404 && strings.HasPrefix(url, "https") && (said > 0) != page {
				t.Errorf("%s: %d with %d bytes, %v", url, status, said, err)
			}
		}
		if res, err := client.Get("http://" + pages + "/plan/a/x"); err == nil && res.StatusCode != http.StatusBadRequest {
			t.Errorf("the pages without TLS: %d", res.StatusCode)
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	if log := c.logs.String(); strings.Contains(log, "127.0.0.1") || strings.Contains(log, "TLS handshake") {
		t.Errorf("the log names addresses:\n%s", log)
	}
	wantGone(t, "http.(*Server)", "daemon.(*doorway)")
}
