package daemon

import (
	"errors"
	"strings"
	"testing"

	"stepgate/daemon/caseload"
	"stepgate/daemon/control"
)

// TestLookAtTheBoard: the same board and course through the running service
// and, once it stopped, in the journal as of when that was last written.
func TestLookAtTheBoard(t *testing.T) {
	c := folder(t)
	look := NewLooker(c.dir, false, env)
	see := func(running bool) (*caseload.Board, *caseload.Timeline) {
		t.Helper()
		b, ran, err := look.Board(t.Context(), caseload.Query{Only: []string{"not begun", "on-course"}, Limit: 1})
		if err != nil || ran != running || len(b.Rows) != 1 || b.Enrolled != 1 || b.AsOf.IsZero() {
			t.Fatalf("board %+v, running %v, %v", b, ran, err)
		}
		line, ran, err := look.Timeline(t.Context(), b.Rows[0].ID, caseload.Span{Last: 14})
		if err != nil || ran != running || len(line.Dates) != 1 || line.Name != b.Rows[0].Name || line.Gone {
			t.Fatalf("course %+v, running %v, %v", line, ran, err)
		}
		if _, _, err := look.Timeline(t.Context(), "nobody", caseload.Span{}); !errors.Is(err, control.ErrNotFound) {
			t.Fatalf("the course of nobody: %v", err)
		}
		var unknown caseload.UnknownError
		if _, _, err := look.Board(t.Context(), caseload.Query{Sort: "luck"}); !errors.As(err, &unknown) {
			t.Fatalf("sorted by luck: %v", err)
		}
		return b, line
	}
	var before *caseload.Timeline
	err := c.serve(0, func() {
		_, before = see(true)
		var b caseload.Board
		err := control.Get(t.Context(), c.data(), "/v1/caseload?sort=luck", &b)
		if err == nil || !strings.Contains(err.Error(), `there is no "luck"`) {
			t.Errorf("the service sorts by luck: %v", err)
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	b, after := see(false)
	if len(after.Dates[0].Items) < len(before.Dates[0].Items) || b.AsOf.Before(before.Dates[0].Items[0].At) {
		t.Errorf("stopped, as of %s: %+v; before %+v", b.AsOf, after.Dates, before.Dates)
	}
}
