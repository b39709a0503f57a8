package app

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"time"

	"proofbell/evidence"
)

// remaining is how long an agreed window had left when it was last written down, by the clock that nobody sets.
type remaining struct {
	Account string        `json:"account"`
	Opened  time.Time     `json:"opened"`
	Until   time.Time     `json:"until"`
	Left    time.Duration `json:"left"`
}

// remainingEvery is how often it is written down while a window is open: after a restart with the clock set back a window
// may be open for longer by so much, and no more.
const remainingEvery = time.Minute

// windows is what is written down of the windows of this process's receiver.
type windows struct {
	known   map[evidence.JobID]remaining // what was written down before this start
	written map[evidence.JobID]remaining
	at      time.Duration // when that was
}

// readWindows reads what this receiver wrote down before it was stopped.
func (a *App) readWindows(ctx context.Context) error {
	if a.inbox == nil {
		return nil
	}
	raw, err := a.store.Setting(ctx, a.windowsSetting())
	if err != nil || raw == nil {
		return err
	}
	if err := json.Unmarshal(raw, &a.windows.known); err != nil {
		return fmt.Errorf("reading how long the test windows had left: %w", err)
	}
	return nil
}

func (a *App) windowsSetting() string { return "windows." + a.inbox.Receiver() }

// left is how long the window of a gate has left at most, by what was written down before this start; any is false when
// nothing was.
func (w *windows) left(g gate) (left time.Duration, any bool) {
	r, ok := w.known[g.job]
	if !ok || r.Account != g.window.Account || !r.Opened.Equal(g.window.Opened) || !r.Until.Equal(g.window.Until) {
		return 0, false
	}
	return r.Left, true
}

// writeWindows writes down once a minute how long the open windows have left.
func (a *App) writeWindows(ctx context.Context) {
	forward := a.forward()
	w := &a.windows
	if a.inbox == nil || w.written != nil && forward-w.at < remainingEvery {
		return
	}
	now := map[evidence.JobID]remaining{}
	for _, gates := range *a.gates.Load() {
		for _, g := range gates {
			if left := g.lapses - forward; onTest(g.window) && left > 0 {
				now[g.job] = remaining{g.window.Account, g.window.Opened, g.window.Until, left}
			}
		}
	}
	if maps.Equal(now, w.written) {
		return
	}
	raw, err := json.Marshal(now)
	if err == nil {
		err = a.store.SetSetting(ctx, a.windowsSetting(), raw)
	}
	if err != nil {
		a.log.Debug("writing down how long the test windows have left", "err", err) // the store's absence is told elsewhere
		return
	}
	w.written, w.at = now, forward
}
