package app

import (
	"sync"
	"time"

	"proofbell/evidence"
)

// Watcher is told what happens while it watches one job. A slow one loses the oldest of what it was not quick enough to
// take of Alarms and Faults; entries are never lost, because Grown only says that there are more to read.
type Watcher struct {
	Grown    chan struct{} // the book of the job has grown
	Alarms   chan Arrival
	Faults   chan FrameRow // frames that could not be taken and may be of this job
	Receiver chan struct{} // what Receptions tells has changed
	job      evidence.JobID
}

// hub tells watchers.
type hub struct {
	mu       sync.Mutex
	watchers map[*Watcher]bool
	last     string           // newest trouble of this process's receiver
	others   map[string]other // receivers of other processes
	shown    string           // how this process's receiver was shown last
	told     time.Duration    // when that was told to others, by the clock that nobody sets
}

// other is the receiver of another process, as it was told last.
type other struct {
	Reception
	told time.Duration // by the clock that nobody sets
}

func newHub() *hub { return &hub{watchers: map[*Watcher]bool{}, others: map[string]other{}} }

// Watch begins telling about a job; call stop when done.
func (a *App) Watch(job evidence.JobID) (w *Watcher, stop func()) {
	w = &Watcher{Grown: make(chan struct{}, 1), Alarms: make(chan Arrival, 64), Faults: make(chan FrameRow, 16), Receiver: make(chan struct{}, 1), job: job}
	h := a.hub
	h.mu.Lock()
	defer h.mu.Unlock()
	h.watchers[w] = true
	offer(w.Receiver, struct{}{})
	return w, func() {
		h.mu.Lock()
		defer h.mu.Unlock()
		delete(h.watchers, w)
	}
}

func (h *hub) grown(job evidence.JobID) {
	h.each(func(w *Watcher) {
		if w.job == job {
			offer(w.Grown, struct{}{})
		}
	})
}

func (h *hub) alarm(a Arrival) { h.each(func(w *Watcher) { offer(w.Alarms, a) }) }

// watched reports whether anybody watches, here or perhaps at another process.
func (h *hub) watched() bool {
	h.mu.Lock()
	defer h.mu.Unlock()
	return len(h.watchers)+len(h.others) > 0
}

// receiver tells that a receiver stands otherwise than before.
func (h *hub) receiver() { h.each(func(w *Watcher) { offer(w.Receiver, struct{}{}) }) }

// trouble says why this process's receiver can not store at present; "" when it can.
func (h *hub) trouble(say string) {
	h.mu.Lock()
	same := h.last == say
	h.last = say
	h.mu.Unlock()
	if !same {
		h.receiver()
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
