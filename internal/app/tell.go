package app

import (
	"context"
	"encoding/json"
	"strings"
	"time"

	"proofbell/signal"
)

// notice is what processes on one store tell each other, beside what they read in the books: one of its fields is set.
// Nobody keeps it, and none may depend on it.
type notice struct {
	Alarm *Arrival             `json:"alarm,omitempty"`
	Fault *FrameRow            `json:"fault,omitempty"`
	State *Reception           `json:"state,omitempty"`
	Heard map[string]time.Time `json:"heard,omitempty"` // accounts that were heard from
}

const (
	longestRaw    = 2048                  // bytes of a frame that a notice still carries whole
	longestNotice = 6000                  // bytes; PostgreSQL hands on 8000
	betweenTold   = 50 * time.Millisecond // alarms and faults to others: in a storm the newest of them
	againTold     = 15 * time.Second      // how a receiver stands, with no change
	forgotten     = 45 * time.Second      // a receiver that was not told of for so long is there no more
)

// alarm shows a signal that was not answered on every screen, of this process and of the others.
func (a *App) alarm(one Arrival) {
	a.hub.alarm(one)
	a.share(notice{Alarm: &one})
}

// share hands a notice to tellOthers. It never blocks; when there are too many the oldest go.
func (a *App) share(n notice) {
	a.hub.mu.Lock()
	defer a.hub.mu.Unlock()
	offer(a.out, n)
}

// tellOthers tells other processes what share was given, until ctx ends.
func (a *App) tellOthers(ctx context.Context) {
	for {
		select {
		case <-ctx.Done():
			return
		case n := <-a.out:
			a.tell(ctx, n)
			pause(ctx, betweenTold)
		}
	}
}

func (a *App) tell(ctx context.Context, n notice) {
	raw, err := n.encode()
	if err == nil {
		short, cancel := context.WithTimeout(ctx, patience)
		defer cancel()
		err = a.store.Tell(short, raw)
	}
	if err != nil && ctx.Err() == nil {
		a.log.Debug("telling other processes", "err", err)
	}
}

// encode writes a notice. A long frame is left out of it, and long events too: the receiver that has it shows it whole.
func (n notice) encode() ([]byte, error) {
	if n.Fault != nil && n.Fault.Fault != nil {
		short, fault := *n.Fault, *n.Fault.Fault
		fault.Got, fault.Say = clip(fault.Got), clip(fault.Say)
		short.Fault, short.Events = &fault, short.Events[:min(len(short.Events), 8)]
		n.Fault = &short
	}
	if n.Alarm == nil {
		return json.Marshal(n)
	}
	short := *n.Alarm
	if len(short.Raw) > 2*longestRaw { // in hex
		short.Raw = ""
	}
	n.Alarm = &short
	raw, err := json.Marshal(n)
	if err == nil && len(raw) > longestNotice {
		short.Raw = ""
		short.Events = append([]signal.Event{}, short.Events[:min(len(short.Events), 8)]...)
		for i := range short.Events {
			e := &short.Events[i]
			e.Raw, e.Text, e.Modifiers = "", "", ""
		}
		raw, err = json.Marshal(n)
	}
	return raw, err
}

// clip shortens a text that a frame may have filled.
func clip(s string) string { return strings.ToValidUTF8(s[:min(len(s), 500)], "") }

// told takes what another process told.
func (a *App) told(raw []byte) {
	var n notice
	if err := json.Unmarshal(raw, &n); err != nil {
		a.log.Debug("another process told what can not be read", "err", err)
		return
	}
	switch {
	case n.Alarm != nil:
		a.hub.alarm(*n.Alarm)
	case n.Fault != nil:
		a.showFault(*n.Fault)
	case n.State != nil && n.State.Receiver != "":
		a.hub.mu.Lock()
		a.hub.others[n.State.Receiver] = other{*n.State, a.forward()}
		a.hub.mu.Unlock()
		a.hub.receiver()
	}
	a.heardElsewhere(n.Heard)
}

// tend does once a second what goes by the clock, until ctx ends.
func (a *App) tend(ctx context.Context) {
	ticker := time.NewTicker(time.Second)
	defer ticker.Stop()
	for {
		a.Tend(ctx)
		select {
		case <-ctx.Done():
			return
		case <-ticker.C:
		}
	}
}

// Tend does once what Run does every second: it asks whether the store is there, looks who was not heard from, forgets
// processes that are gone, and tells those who watch, here and elsewhere, when the receiver stands otherwise than before.
func (a *App) Tend(ctx context.Context) {
	a.ping(ctx)
	a.supervise(ctx)
	a.writeWindows(ctx)
	state := a.reception()
	shown, err := json.Marshal(state)
	if err != nil {
		a.log.Error("telling how the receiver stands", "err", err) // can not happen: it holds numbers and texts
		return
	}
	forward := a.forward()
	h := a.hub
	h.mu.Lock()
	changed := false
	for id, o := range h.others {
		if forward-o.told > forgotten {
			delete(h.others, id)
			changed = true
		}
	}
	own := string(shown) != h.shown
	say := own || forward-h.told >= againTold
	if say {
		h.shown, h.told = string(shown), forward
	}
	h.mu.Unlock()
	if changed || own {
		h.receiver()
	}
	if say && a.inbox != nil && !state.Away {
		a.tell(ctx, notice{State: &state})
	}
}

// ping asks whether the store is there while that decides something: while signals of a run may be answered here.
func (a *App) ping(ctx context.Context) {
	if a.inbox == nil || !a.running() {
		return
	}
	short, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	_, err := a.store.Taken(short, a.inbox.Receiver())
	if ctx.Err() == nil {
		a.spool.reached(err == nil, a.forward())
	}
}

// running reports whether a run is open in any job.
func (a *App) running() bool {
	for _, gates := range *a.gates.Load() {
		for _, g := range gates {
			if g.run != "" {
				return true
			}
		}
	}
	return false
}
