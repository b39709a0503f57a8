package server

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"proofbell/internal/app"
	"proofbell/signal"
)

// observed hands a frame to the page as the receiver does.
func (c *client) observed(raw string) {
	r := signal.Judge([]byte(raw))
	r.At, r.Transport, r.Remote = time.Now().UTC(), "tcp", "127.0.0.1:1"
	c.app.Observe(app.Observed{Received: r})
}

const fire, broken = "\nFD670026\"SIA-DCS\"0001L0#1234[#1234|Nri1/FA005]\r", "\nFD680026\"SIA-DCS\"0001L0#1234[#1234|Nri1/FA005]\r"

func TestReceiverState(t *testing.T) {
	c := serve(t)
	c.open()
	a := c.do("GET", "/api/receiver", "")
	c.want(a, http.StatusOK, "")
	got := parsed[struct {
		Listening, Here bool
		Addresses       []string
		Tested          []app.Tested
		Peers           []Peer
	}](t, a)
	if !got.Listening || !got.Here || !slices.Equal(got.Addresses, []string{"127.0.0.1:5090"}) || got.Tested == nil || got.Peers != nil {
		t.Errorf("%s", a.body)
	}
	for _, addresses := range [][]string{{"192.0.2.7:5090"}, {"127.0.0.1:1", "[fd00::1]:5090"}} {
		if allHere(addresses) {
			t.Errorf("%v are of this machine alone", addresses)
		}
	}
}

func TestFramesAndTheirLessons(t *testing.T) {
	c := serve(t)
	c.observed(fire)
	c.observed(broken)
	a := c.do("GET", "/api/receiver/frames?limit=1", "")
	c.want(a, http.StatusOK, "")
	got := parsed[struct {
		Frames []app.FrameRow
		Missed int64
	}](t, a)
	if len(got.Frames) != 1 || got.Frames[0].State != app.FrameDamaged || got.Frames[0].Fault.Offset != 1 || got.Missed != 0 {
		t.Errorf("%s", a.body)
	}
	n := got.Frames[0].N
	a = c.do("GET", fmt.Sprintf("/api/receiver/frames/%d", n), "")
	c.want(a, http.StatusOK, "")
	if l := parsed[app.Lesson](t, a); !l.Ranges[1].Bad || l.Ranges[1].Want != "FD67" || l.Right == nil || !l.Right.Mended {
		t.Errorf("%s", a.body)
	}
	a = c.do("GET", fmt.Sprintf("/api/receiver/frames/%d?lang=de", n-1), "")
	if l := parsed[app.Lesson](t, a); len(l.Events) != 1 || l.Events[0].Words != "Brandalarm" {
		t.Errorf("in German: %s", a.body)
	}
	c.want(c.do("GET", "/api/receiver/frames/7", ""), http.StatusNotFound, app.NotFound)
	c.want(c.do("GET", "/api/receiver/frames/x", ""), http.StatusNotFound, app.NotFound)
	c.want(c.do("GET", "/api/receiver/frames?after=x", ""), http.StatusBadRequest, app.BadRequest)
	c.want(c.do("GET", "/api/receiver", "", "Host", "example.org"), http.StatusForbidden, app.NotAllowed)
}

// The state comes first, then what is held, then what comes; a reader who comes back goes on behind its cursor.
func TestReceiverStream(t *testing.T) {
	c := serve(t)
	c.observed(fire)
	next, stop := c.stream("", "?lang=de")
	state := next()
	if state.name != "state" || !strings.Contains(state.data, `"listening":true`) {
		t.Fatalf("first is %+v", state)
	}
	held := next()
	if held.name != "frames" || !strings.Contains(held.data, "Brandalarm") {
		t.Errorf("then %+v", held)
	}
	c.observed(broken)
	fresh := next()
	got := parsed[struct{ Frames []app.FrameRow }](t, answer{body: fresh.data})
	if fresh.name != "frames" || len(got.Frames) != 1 || fresh.id != fmt.Sprint(got.Frames[0].N) {
		t.Errorf("then %+v", fresh)
	}
	stop()
	for range 150 {
		c.observed(broken)
	}
	next, stop = c.stream("", "", "Last-Event-ID", fresh.id)
	defer stop()
	next()
	rest := parsed[struct {
		Frames []app.FrameRow
		Missed int64
	}](t, answer{body: next().data})
	if len(rest.Frames) != framesAtOnce || rest.Missed != 50 {
		t.Errorf("after coming back %d frames, %d missed", len(rest.Frames), rest.Missed)
	}
}
