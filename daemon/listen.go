package daemon

import (
	"crypto/tls"
	"fmt"
	"maps"
	"net"
	"slices"

	"stepgate/config"
)

// Loopback tells whether an address, host and port, can be reached from this
// machine only.
func Loopback(address string) bool {
	_, port, err := net.SplitHostPort(address)
	return err == nil && port != "" && thisMachine(address)
}

// openDoors listens at every address that is served: what is for the outside
// behind one guard, with the clinic's own certificate where the pages are, and
// what monitoring asks.
func (s *Service) openDoors(c *config.Clinic, sites map[string][]route) (open []WebServer, err error) {
	defer func() {
		if err != nil {
			for _, web := range open {
				_ = web.Listener.Close()
			}
			open = nil
		}
	}()
	g := newGuard(s.o.Log, s.meter.refuse)
	for _, address := range slices.Sorted(maps.Keys(sites)) {
		l, err := net.Listen("tcp", address)
		if err != nil {
			return open, fmt.Errorf("open the web address: %w", err)
		}
		door := net.Listener(newDoorway(l, s.meter.refuse))
		open = append(open, WebServer{Handler: g.handler(sites[address]), Listener: door})
		if c.Web == nil || c.Web.CertificateFile == "" || address != c.Web.Listen {
			continue
		}
		cert, err := openCertificate(c.Web.CertificateFile, c.Web.KeyFile, s.o.Log)
		if err != nil {
			return open, err
		}
		s.mu.Lock()
		s.cert = cert
		s.mu.Unlock()
		open[len(open)-1].Listener = tls.NewListener(door, cert.config())
	}
	if c.Metrics != "" {
		l, err := net.Listen("tcp", c.Metrics)
		if err != nil {
			return open, fmt.Errorf("open the address of metrics: %w", err)
		}
		open = append(open, WebServer{Handler: s.watched(), Listener: l})
	}
	if c.Reports != "" {
		l, err := net.Listen("tcp", c.Reports)
		if err != nil {
			return open, fmt.Errorf("open the address of reports: %w", err)
		}
		open = append(open, WebServer{Handler: s.pages(), Listener: l})
	}
	return open, nil
}
