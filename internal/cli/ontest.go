package cli

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"time"

	"proofbell/internal/prove"
)

// longestOnTest bounds --on-test: a station leaves nobody on test for longer.
const longestOnTest = 24 * time.Hour

// testWindow says for how long the accounts of a file are on test. It ends by the wall clock or by the monotonic one,
// whichever is first, and then for good: a clock set back opens nothing. Its end is kept in the data folder, so that a
// restart goes on with it and never lengthens it; when the clock is behind what was written down there, it is over. Safe for concurrent use.
type testWindow struct {
	path string

	mu   sync.Mutex
	kept onTest
	ends time.Time // by the monotonic clock
	over bool

	noted time.Time // when the time was written down last

	before bool // it was opened by an earlier start
}

// onTest is what the file on-test.json holds.
type onTest struct {
	Accounts []string  `json:"accounts"`
	Opened   time.Time `json:"opened"`
	Until    time.Time `json:"until"`
	Seen     time.Time `json:"seen,omitzero"` // the latest that was written down: the clock was there already
}

// seenEvery is how often the time is written down while a window is open.
const seenEvery = time.Minute

// openWindow goes on with the window of the folder where it is open still, or opens one for the accounts and the time given.
// off ends what is kept first.
func openWindow(dir string, accounts []string, length time.Duration, off bool, now time.Time) (*testWindow, error) {
	if length < 0 || length > longestOnTest {
		return nil, fmt.Errorf("--on-test %v: give a time up to %v, as 90m", length, longestOnTest)
	}
	w := &testWindow{path: filepath.Join(dir, "on-test.json"), over: true}
	raw, err := os.ReadFile(w.path)
	if err == nil && !off {
		if err := json.Unmarshal(raw, &w.kept); err != nil {
			return nil, fmt.Errorf("%s: %w; --off-test takes it away", w.path, err)
		}
	} else if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	if wall := now.Round(0); !w.kept.Opened.IsZero() && !wall.Before(w.kept.Opened) && !wall.Before(w.kept.Seen) && wall.Before(w.kept.Until) {
		w.over, w.before, w.ends = false, true, now.Add(w.kept.Until.Sub(wall))
		return w, nil
	}
	w.kept = onTest{}
	if length == 0 {
		return w, w.forget()
	}
	w.kept = onTest{Accounts: accounts, Opened: now.UTC().Round(0), Until: now.UTC().Round(0).Add(length)}
	w.over, w.ends = false, now.Add(length)
	if err := w.keep(w.kept); err != nil {
		return nil, err
	}
	return w, nil
}

func (w *testWindow) keep(o onTest) error {
	raw, err := json.Marshal(o)
	if err != nil {
		return err
	}
	if err := replaceFile(w.path, raw, 0o600); err != nil {
		return fmt.Errorf("keeping the end of the test window: %w", err)
	}
	return nil
}

func (w *testWindow) forget() error {
	if err := os.Remove(w.path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("ending the test window: %w", err)
	}
	return nil
}

// open reports whether an account is on test by both clocks. A time of time.Now holds both.
func (w *testWindow) open(account string, now time.Time) bool {
	return w.openAt(account, now.Round(0), now)
}

func (w *testWindow) openAt(account string, wall, steady time.Time) bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.over || !steady.Before(w.ends) || wall.Before(w.kept.Opened) || !slices.Contains(w.kept.Accounts, account) {
		return false
	}
	return prove.MayAcknowledge(prove.Window{Stage: prove.WindowOpen, Account: account, Opened: w.kept.Opened, Until: w.kept.Until}, account, false, wall)
}

// out lists those of the accounts that are not in the window.
func (w *testWindow) out(accounts []string) []string {
	return slices.DeleteFunc(accounts, func(number string) bool { return slices.Contains(w.kept.Accounts, number) })
}

// until is the end of the window; zero when none is open.
func (w *testWindow) until() time.Time {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.over {
		return time.Time{}
	}
	return w.kept.Until
}

// look ends the window when its time is over, and tells whether it did so now. Else it writes down what time it is.
func (w *testWindow) look(wall, steady time.Time) (lapsed bool, err error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.over || steady.Before(w.ends) && wall.Before(w.kept.Until) && !wall.Before(w.kept.Opened) {
		return false, w.see(wall, w.ends.Sub(steady))
	}
	w.over = true
	return true, w.forget()
}

// see writes down the time, and the end as what is left by the monotonic clock puts it when that is earlier: a clock that
// is set back now and a restart later would lengthen the window. w.mu is held.
func (w *testWindow) see(wall time.Time, left time.Duration) error {
	if d := wall.Sub(w.noted); !w.noted.IsZero() && d >= 0 && d < seenEvery {
		return nil
	}
	w.noted = wall
	if wall.After(w.kept.Seen) {
		w.kept.Seen = wall.UTC()
	}
	written := w.kept
	if end := wall.UTC().Add(left); end.Before(written.Until) {
		written.Until = end
	}
	return w.keep(written)
}
