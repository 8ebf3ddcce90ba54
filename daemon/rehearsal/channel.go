package rehearsal

import (
	"context"
	"strconv"

	"stepgate/notify"
)

// channelName is the channel everything goes by: the spool, as for every
// made-up calendar, whatever the enrollment says.
const channelName = "spool"

// channel is a channel in memory: what is sent is taken at once, and what is
// put into it waits to be read.
type channel struct {
	in   []notify.Incoming
	sent int
}

// Send takes a message.
func (c *channel) Send(context.Context, notify.Message) notify.Result {
	c.sent++
	return notify.Result{Status: notify.Sent, ID: "made-up-" + strconv.Itoa(c.sent)}
}

// Settle has nothing to find out: Send is never cut off.
func (c *channel) Settle(context.Context, notify.Message) notify.Result {
	return notify.Result{Status: notify.Unknown, Code: "made up"}
}

// Collect gives what waits.
func (c *channel) Collect(ctx context.Context, take notify.Take) error {
	for len(c.in) > 0 {
		if err := take(ctx, c.in[0]); err != nil {
			return err
		}
		c.in = c.in[1:]
	}
	return nil
}

var (
	_ notify.Sender   = (*channel)(nil)
	_ notify.Receiver = (*channel)(nil)
)
