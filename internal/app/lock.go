package app

import (
	"context"
	"fmt"
	"sync"
)

// lock is a mutex that can be waited for no longer than a context lasts. The zero value is open.
type lock struct {
	once  sync.Once
	place chan struct{} // one; full while the lock is held
}

func (l *lock) made() chan struct{} {
	l.once.Do(func() { l.place = make(chan struct{}, 1) })
	return l.place
}

func (l *lock) Lock() { l.made() <- struct{}{} }

func (l *lock) Unlock() { <-l.made() }

// within locks, or gives up when ctx ends.
func (l *lock) within(ctx context.Context) error {
	if err := ctx.Err(); err != nil {
		return fmt.Errorf("waiting for the book: %w", err)
	}
	select {
	case l.made() <- struct{}{}:
		return nil
	case <-ctx.Done():
		return fmt.Errorf("waiting for the book: %w", ctx.Err())
	}
}
