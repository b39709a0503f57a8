package server

import (
	"cmp"
	"encoding/json"
	"fmt"
	"net/http"
	"strconv"
	"time"

	"proofbell/evidence"
)

const (
	beat = 15 * time.Second
	slow = 30 * time.Second // a client that takes no event for so long is let go; it comes back with its cursor
)

// events streams what happens to a job: entries behind the cursor, each once and in order, and what the receiver stored
// without answering, of whatever account.
func (s *server) events(w http.ResponseWriter, r *http.Request) {
	job := jobID(r)
	cursor, err := seen(r)
	if err == nil {
		_, _, err = s.App.Key(job)
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	watcher, unwatch := s.App.Watch(job)
	defer unwatch()
	stream := newStream(w, r)
	ticker := time.NewTicker(beat)
	defer ticker.Stop()
	cursor = s.catchUp(r, stream, job, cursor)
	for stream.err == nil {
		select {
		case <-r.Context().Done():
			return
		case <-stream.stop:
			return
		case <-watcher.Grown:
			cursor = s.catchUp(r, stream, job, cursor)
		case alarm := <-watcher.Alarms:
			stream.send("alarm", "", alarm)
		case fault := <-watcher.Faults:
			stream.send("fault", "", fault)
		case <-watcher.Receiver:
			state, err := s.receiver(r, job)
			if stream.err = err; err == nil {
				stream.send("receiver", "", state)
			}
		case <-ticker.C:
			stream.beat()
		}
	}
}

// receiver is how the signal receivers stand, said for the screens of a job; "" are those of none.
func (s *server) receiver(r *http.Request, job evidence.JobID) (map[string]any, error) {
	stored, err := s.App.LastArrival(r.Context())
	all, lang := s.App.Receptions(), spoken(r)
	own := all[0]
	say := own.Say(lang)
	for _, other := range all[1:] {
		if fault := other.Say(lang); fault != "" && say == "" {
			say = lang.Say("The receiver on %s: %s", cmp.Or(other.Name, other.Receiver), fault)
		}
	}
	for _, link := range own.Links {
		if fault := link.Say(lang, time.Now()); fault != "" && say == "" && (job == "" || link.Job == job) {
			say = fault
		}
	}
	return map[string]any{"listening": len(s.Signals) > 0, "stored": stored, "say": say, "backlog": own.Backlog, "links": own.Links, "others": all[1:]}, err
}

func (s *server) catchUp(r *http.Request, stream *stream, job evidence.JobID, cursor int64) int64 {
	for {
		entries, err := s.App.Entries(r.Context(), job, cursor, 500)
		if err != nil {
			if r.Context().Err() == nil {
				s.Log.Error("streaming entries", "job", job, "err", err)
			}
			stream.err = err // the browser comes back with its cursor
			return cursor
		}
		if len(entries) == 0 {
			stream.flush()
			return cursor
		}
		cursor = entries[len(entries)-1].Seq
		stream.send("entries", strconv.FormatInt(cursor, 10), map[string]any{"job": job, "entries": entries})
	}
}

// stream writes server-sent events; its first error ends it.
type stream struct {
	w    http.ResponseWriter
	c    *http.ResponseController
	stop <-chan struct{} // closed when the server ends; nil in tests: never
	err  error
}

func newStream(w http.ResponseWriter, r *http.Request) *stream {
	w.Header().Set("Content-Type", "text/event-stream")
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Set("X-Accel-Buffering", "no")
	stop, _ := r.Context().Value(ending{}).(<-chan struct{})
	return &stream{w: w, c: http.NewResponseController(w), stop: stop}
}

// seen is the last event that a client has: a browser that comes back names it by itself.
func seen(r *http.Request) (int64, error) {
	cursor, err := number(r, "after", 0, 1<<53)
	if last, bad := strconv.ParseInt(r.Header.Get("Last-Event-ID"), 10, 64); bad == nil && last >= 0 {
		cursor = last
	}
	return cursor, err
}

func (s *stream) send(event, id string, v any) {
	raw, err := json.Marshal(v)
	if err != nil {
		s.err = err
		return
	}
	if id != "" {
		id = "id: " + id + "\n"
	}
	s.write(fmt.Sprintf("event: %s\n%sdata: %s\n\n", event, id, raw))
}

func (s *stream) beat() { s.write(": still here\n\n") }

func (s *stream) write(text string) {
	if s.err == nil {
		_ = s.c.SetWriteDeadline(time.Now().Add(slow)) // not every writer has one: then there is none
		_, s.err = s.w.Write([]byte(text))
	}
	s.flush()
}

func (s *stream) flush() {
	if s.err == nil {
		s.err = s.c.Flush()
	}
}
