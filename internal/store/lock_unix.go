//go:build unix

package store

import (
	"errors"
	"fmt"
	"os"
	"syscall"

	"proofbell/internal/app"
)

// lock takes the folder for this process until unlock is called or the process ends, however it ends.
func lock(path string) (unlock func() error, err error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, err
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		if errors.Is(err, syscall.EWOULDBLOCK) {
			err = fmt.Errorf("%w: stop that one, or choose another folder with --data", app.ErrInUse)
		}
		return nil, errors.Join(err, f.Close())
	}
	return f.Close, nil
}
