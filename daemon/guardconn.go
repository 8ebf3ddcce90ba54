package daemon

import (
	"container/list"
	"context"
	"crypto/tls"
	"net"
	"net/http"
	"net/netip"
	"sync"
	"time"
)

// How many connections are open at a time, and of one address: ours to choose.
// With bodies of 64 KiB they hold 64 MiB at most.
const (
	mostConns = 1024
	eachConns = 64
)

// young is how long a connection has for its first request before it can be
// cut off for another: ours to choose. A good one takes a moment, also on a
// busy machine.
const young = time.Second

// doorway is a listener with room for so many connections. Where it is full the
// oldest on which no whole request has come makes room, or else the one that
// was idle for the longest time: slow clients can't keep others out. Who comes
// meanwhile waits in the system's queue.
type doorway struct {
	net.Listener
	most, each int
	count      func(reason string)
	closed     chan struct{} // with the listener
	freed      chan struct{} // a place is free

	mu    sync.Mutex
	once  sync.Once
	open  *list.List // of *doorConn: by when they came, or were last worked on
	holds map[netip.Prefix]int
}

type doorConn struct {
	net.Conn
	door  *doorway
	from  remote
	came  time.Time
	place *list.Element // nil once it has none
	heard bool          // a whole request has come on it
	work  bool          // one is being worked on
}

func newDoorway(l net.Listener, count func(reason string)) *doorway {
	return &doorway{Listener: l, most: mostConns, each: eachConns, count: count, closed: make(chan struct{}),
		freed: make(chan struct{}, 1), open: list.New(), holds: map[netip.Prefix]int{}}
}

// Accept waits for a connection and a place for it.
func (d *doorway) Accept() (net.Conn, error) {
	for {
		c, err := d.Listener.Accept()
		if err != nil {
			return nil, err
		}
		for {
			in, out, wait := d.admit(c, time.Now())
			if out != nil {
				d.count("connections")
				_ = out.Close()
			}
			if in != nil {
				return in, nil
			}
			if wait == 0 || !d.await(wait) {
				break
			}
		}
		_ = c.Close() // it is out, or the door is closed
	}
}

// await waits until there may be a place; false: the door was closed.
func (d *doorway) await(wait time.Duration) bool {
	timer := time.NewTimer(wait)
	defer timer.Stop()
	select {
	case <-timer.C:
	case <-d.freed:
	case <-d.closed:
		return false
	}
	return true
}

// Close closes the listener.
func (d *doorway) Close() error {
	d.once.Do(func() { close(d.closed) })
	return d.Listener.Close()
}

// admit gives a connection a place, and returns who has to go for it: perhaps
// itself. Where nobody can, it is to be asked again after a while.
func (d *doorway) admit(c net.Conn, now time.Time) (in *doorConn, out net.Conn, wait time.Duration) {
	from := addressOf(c.RemoteAddr().String())
	d.mu.Lock()
	defer d.mu.Unlock()
	if from.class != "local" && d.holds[from.net] >= d.each {
		return nil, c, 0
	}
	if d.open.Len() >= d.most {
		last, wait := d.least(now)
		if last == nil {
			return nil, nil, wait
		}
		d.remove(last)
		out = last.Conn
	}
	in = &doorConn{Conn: c, door: d, from: from, came: now}
	in.place = d.open.PushBack(in)
	d.holds[from.net]++
	return in, out, 0
}

// least is the connection that is missed the least, or nil and after how long
// to look again.
func (d *doorway) least(now time.Time) (idle *doorConn, wait time.Duration) {
	wait = young
	for e := d.open.Front(); e != nil; e = e.Next() {
		c := e.Value.(*doorConn)
		if !c.heard {
			if wait = c.came.Add(young).Sub(now); wait <= 0 {
				return c, 0
			}
			break // those that follow came later
		}
		if !c.work && idle == nil {
			idle = c
		}
	}
	return idle, wait
}

func (d *doorway) remove(c *doorConn) {
	if c.place == nil {
		return
	}
	d.open.Remove(c.place)
	c.place = nil
	if d.holds[c.from.net]--; d.holds[c.from.net] == 0 {
		delete(d.holds, c.from.net)
	}
	select {
	case d.freed <- struct{}{}:
	default:
	}
}

// Close gives the place back.
func (c *doorConn) Close() error {
	c.door.mu.Lock()
	c.door.remove(c)
	c.door.mu.Unlock()
	return c.Conn.Close()
}

type doorKey struct{}

// withDoor has the requests of a connection know it.
func withDoor(ctx context.Context, c net.Conn) context.Context {
	if t, ok := c.(*tls.Conn); ok {
		c = t.NetConn()
	}
	if c, ok := c.(*doorConn); ok {
		return context.WithValue(ctx, doorKey{}, c)
	}
	return ctx
}

// inWork says that a whole request has come, or that it was answered.
func inWork(r *http.Request, work bool) {
	c, ok := r.Context().Value(doorKey{}).(*doorConn)
	if !ok {
		return
	}
	c.door.mu.Lock()
	defer c.door.mu.Unlock()
	c.heard, c.work = true, work
	if c.place != nil && !work {
		c.door.open.MoveToBack(c.place)
	}
}
