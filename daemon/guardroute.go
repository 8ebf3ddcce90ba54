package daemon

import (
	"net/http"
	"net/netip"
	"net/url"
	"strings"
	"sync"
	"time"
)

// takes tells whether a request's path is this route's.
func (x route) takes(u *url.URL) bool {
	if u.RawPath != "" { // an escaped slash, and the like: none of ours has any
		return false
	}
	if !strings.HasSuffix(x.path, "/") || x.path == "/" {
		return u.Path == x.path
	}
	token, ok := strings.CutPrefix(u.Path, x.path)
	return ok && token != "" && len(token) <= maxToken && strings.IndexFunc(token, notToken) < 0
}

// notToken finds what stands in no token of ours: base64url, a dot, a dash.
func notToken(c rune) bool {
	return !(c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || c == '.' || c == '-' || c == '_')
}

// remote is where a request comes from.
type remote struct {
	net   netip.Prefix // an IPv4 address, or an IPv6 network of 64 bits
	class string       // ipv4, ipv6, or local: this machine itself
}

// remoteOf is the peer of a connection, or behind a reverse proxy on this
// machine the last hop that the proxy names; what stands before that in the
// header anybody may have written.
func remoteOf(r *http.Request) remote {
	peer := addressOf(r.RemoteAddr)
	if peer.class != "local" {
		return peer
	}
	hops := r.Header.Values("X-Forwarded-For")
	if len(hops) == 0 {
		return peer
	}
	last := hops[len(hops)-1]
	return addressOf(strings.TrimSpace(last[strings.LastIndexByte(last, ',')+1:]))
}

// addressOf reads an address, with a port or without. What can't be read is
// local: it can only come from a proxy here.
func addressOf(s string) remote {
	ip, err := netip.ParseAddr(s)
	if err != nil {
		if at, err := netip.ParseAddrPort(s); err == nil {
			ip = at.Addr()
		}
	}
	ip = ip.Unmap().WithZone("")
	switch {
	case !ip.IsValid() || ip.IsLoopback():
		return remote{class: "local"}
	case ip.Is4():
		return remote{netip.PrefixFrom(ip, 32), "ipv4"}
	}
	return remote{netip.PrefixFrom(ip, 64).Masked(), "ipv6"}
}

// limitedLines keeps the log short: a line a minute for each kind.
type limitedLines struct {
	mu    sync.Mutex
	next  map[string]time.Time
	since map[string]int
}

// due counts one, and returns how many came since the last line, or 0 where it
// is too early for another.
func (l *limitedLines) due(kind string, now time.Time) int {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.next == nil {
		l.next, l.since = map[string]time.Time{}, map[string]int{}
	}
	l.since[kind]++
	if now.Before(l.next[kind]) {
		return 0
	}
	n := l.since[kind]
	l.next[kind], l.since[kind] = now.Add(time.Minute), 0
	return n
}
