package daemon

import (
	"context"
	"fmt"
	"slices"

	"stepgate/daemon/journal"
)

// acceptBatch is how many patients are enrolled in one commit. What one commit
// inserts lies unsplit in memory until its end, so that a million in one would
// take a time that grows with their square.
const acceptBatch = 1000

// enrollAhead enrolls new patients where there are more than fit one commit, and
// says which; nil: none. Files that would be refused enroll nobody.
func (s *Service) enrollAhead(ctx context.Context, r *roster, refs []journal.FileRef) (taken []bool, err error) {
	all := r.clinic.Enrollments
	unknown := 0
	err = s.o.Journal.View(func(tx *journal.Tx) error {
		last, _, err := tx.LastAccepted()
		if err != nil || slices.Equal(last, refs) {
			return err // nobody is new in the files accepted last
		}
		as, err := asBefore(tx, last, refs)
		if err != nil {
			return err
		}
		for e := range all.All() {
			if !as(e) && tx.PersonRow(e.ID) == nil {
				unknown++
			}
		}
		if unknown <= acceptBatch {
			return nil
		}
		_, _, err = mayAccept(tx, r, s.o.Clock.Now(), s.o.Made)
		return err
	})
	if err != nil || unknown <= acceptBatch {
		return nil, err
	}
	if s.Clinic() == nil { // nobody else is held
		BoundMemory(all.Len())
	}
	taken = make([]bool, all.Len())
	for from := 0; from < len(taken); from += acceptBatch {
		err := s.commit(ctx, r, func(w *work) error {
			for i := from; i < min(from+acceptBatch, len(taken)); i++ {
				if taken[i] = w.tx.PersonRow(all.ID(i)) == nil; !taken[i] {
					continue
				}
				if err := w.takeEnrollment(all.At(i)); err != nil {
					return fmt.Errorf("enrollment %s: %w", all.ID(i), err)
				}
			}
			return nil
		})
		if err != nil {
			return nil, err
		}
	}
	return taken, nil
}
