//go:build !unix

package store

import (
	"fmt"
	"os"

	"proofbell/internal/app"
)

// lock takes the folder by a file that only one process can make. After a crash the file stays: the message says so.
func lock(path string) (unlock func() error, err error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return nil, fmt.Errorf("%w: stop that one; if none runs, delete %s", app.ErrInUse, path)
	}
	return func() error {
		if err := f.Close(); err != nil {
			return err
		}
		return os.Remove(path)
	}, nil
}
