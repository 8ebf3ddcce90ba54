package daemon

import (
	"runtime"
	"sync"
)

// crew does what is to be done ahead of a commit for the many connections that
// bring messages: no more hands than there are processors, and each goes on as long
// as something waits. Packing a payload takes 64 kB of stack, and each of the
// connections would have to grow one, which the collector takes away again.
type crew struct {
	mu      sync.Mutex
	queue   []*task
	running int
}

type task struct {
	fn   func()
	done chan struct{}
}

// do returns once fn has run, in its turn. It must not panic.
func (c *crew) do(fn func()) {
	x := &task{fn, make(chan struct{})}
	c.mu.Lock()
	c.queue = append(c.queue, x)
	if c.running < runtime.GOMAXPROCS(0) {
		c.running++
		go c.work()
	}
	c.mu.Unlock()
	<-x.done
}

func (c *crew) work() {
	for x := c.next(); x != nil; x = c.next() {
		x.fn()
		close(x.done)
	}
}

// next takes the next out of the queue; nil: there is none, and the hand ends.
func (c *crew) next() *task {
	c.mu.Lock()
	defer c.mu.Unlock()
	if len(c.queue) == 0 {
		c.queue = nil // lets the array of a busy hour go
		c.running--
		return nil
	}
	x := c.queue[0]
	c.queue = c.queue[1:]
	return x
}
