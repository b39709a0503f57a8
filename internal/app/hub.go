package app

import (
	"sync"

	"proofbell/evidence"
)

// Watcher is told what happens while it watches one job. A slow one loses the oldest of what it was not quick enough to
// take of Alarms and Faults; entries are never lost, because Grown only says that there are more to read.
type Watcher struct {
	Grown   chan struct{} // the book of the job has grown
	Alarms  chan Arrival
	Faults  chan FrameRow // frames that could not be taken and may be of this job
	Trouble chan string   // the receiver can not store ("" when it can again)
	job     evidence.JobID
}

// hub tells watchers.
type hub struct {
	mu       sync.Mutex
	watchers map[*Watcher]bool
	last     string // newest trouble
}

func newHub() *hub { return &hub{watchers: map[*Watcher]bool{}} }

// Watch begins telling about a job; call stop when done.
func (a *App) Watch(job evidence.JobID) (w *Watcher, stop func()) {
	w = &Watcher{Grown: make(chan struct{}, 1), Alarms: make(chan Arrival, 64), Faults: make(chan FrameRow, 16), Trouble: make(chan string, 1), job: job}
	h := a.hub
	h.mu.Lock()
	defer h.mu.Unlock()
	h.watchers[w] = true
	offer(w.Trouble, h.last)
	return w, func() {
		h.mu.Lock()
		defer h.mu.Unlock()
		delete(h.watchers, w)
	}
}

// ReceiverTrouble says why the receiver can not store at present; "" when it can.
func (a *App) ReceiverTrouble() string {
	a.hub.mu.Lock()
	defer a.hub.mu.Unlock()
	return a.hub.last
}

func (h *hub) grown(job evidence.JobID) {
	h.each(func(w *Watcher) {
		if w.job == job {
			offer(w.Grown, struct{}{})
		}
	})
}

func (h *hub) alarm(a Arrival) { h.each(func(w *Watcher) { offer(w.Alarms, a) }) }

func (h *hub) watched() bool {
	h.mu.Lock()
	defer h.mu.Unlock()
	return len(h.watchers) > 0
}

func (h *hub) trouble(say string) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.last == say {
		return
	}
	h.last = say
	for w := range h.watchers {
		offer(w.Trouble, say)
	}
}

func (h *hub) each(tell func(*Watcher)) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for w := range h.watchers {
		tell(w)
	}
}

// offer puts v into c; when c is full its oldest value makes room. Callers hold the hub's lock, so there is one sender.
func offer[T any](c chan T, v T) {
	for {
		select {
		case c <- v:
			return
		default:
		}
		select {
		case <-c:
		default:
		}
	}
}
