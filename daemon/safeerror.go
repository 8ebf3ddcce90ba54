package daemon

import (
	"context"
	"errors"
	"io/fs"
	"syscall"

	"stepgate/notify"
)

// safeError names an error for the log without what a carrier or a file
// system put into it: contacts and bodies must not get there.
func safeError(err error) string {
	var refused RefusedError
	var list notify.ListError
	switch {
	case err == nil:
		return ""
	case errors.Is(err, context.Canceled):
		return "canceled"
	case errors.Is(err, context.DeadlineExceeded):
		return "timeout"
	case errors.Is(err, notify.ErrHalfWritten):
		return "half written"
	case errors.As(err, &refused):
		return "refused"
	case errors.As(err, &list):
		return list.Code
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT), errors.Is(err, syscall.EFBIG):
		return "disk full"
	case errors.Is(err, syscall.EROFS), errors.Is(err, fs.ErrPermission):
		return "read-only"
	case errors.Is(err, syscall.EIO):
		return "disk error"
	}
	return "failed"
}
