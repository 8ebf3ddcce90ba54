package notify

import (
	"context"
	"fmt"
	"log/slog"
	"net/http"
	"strconv"
	"time"
)

// News is what finally became of a message that the carrier took.
type News struct {
	ID         string // the carrier's
	Delivered  bool   // false: surely not delivered
	Code       string // the carrier's code, or its word for the status; safe to log
	BadContact bool   // the number can't get texts
	OptedOut   bool   // the person opted out at the carrier
	Trouble    bool   // our own account or number is in trouble
}

// Tell commits a piece of news. The same may come several times, and news of
// several messages in any order.
type Tell func(ctx context.Context, n News) error

// News reads what was made or sent from each of our numbers since then, less
// an hour for the carrier's clock, and tells what became of each message whose
// end is known, oldest first. Zero reads all that the carrier kept. It stops
// at the first that can't be committed, and returns nil only if every list was
// read that far. No error repeats a number or a text.
func (s *SMS) News(ctx context.Context, since time.Time, tell Tell) error {
	if !since.IsZero() {
		since = since.Add(-clockSlack)
	}
	rows, unread := s.rows(ctx, false, since)
	for _, r := range rows {
		if err := ctx.Err(); err != nil {
			return fmt.Errorf("read delivery news: %w", err)
		}
		n, final := news(r.id, value(r.msg.Status), value(r.msg.ErrorCode))
		if !final {
			continue
		}
		if err := tell(ctx, n); err != nil {
			return &callerError{"read delivery news: that of " + r.id + " was not committed", err}
		}
	}
	if unread != nil {
		return fmt.Errorf("read delivery news: %w", unread)
	}
	return nil
}

// StatusHook is the web hook for delivery news, the address of which is given
// to the carrier as StatusURL. It is as strict as Hook, and logs the same. News
// is acknowledged once tell has committed it. A status that is not final, or
// that nobody knows, is acknowledged and dropped.
func (s *SMS) StatusHook(public string, tell Tell, log *slog.Logger) http.Handler {
	return s.hook(public, log, func(form map[string]string) (call, *refusal) {
		id, status := form["MessageSid"], form["MessageStatus"]
		if !messageSID.MatchString(id) || status == "" {
			return call{}, &refusal{http.StatusBadRequest, "fields"}
		}
		// A code that is no number is none; the status says enough.
		code, _ := strconv.Atoi(form["ErrorCode"])
		n, final := news(id, status, code)
		return call{id: id, commit: func(ctx context.Context) error {
			if !final {
				return nil
			}
			return tell(ctx, n)
		}}, nil
	})
}
