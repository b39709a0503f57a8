package panelsim

import (
	"context"
	"encoding/json"
	"io"
	"log/slog"
	"net/http/httptest"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"proofbell/demo"
	"proofbell/internal/receiver"
	"proofbell/panel"
	"proofbell/signal"
	"proofbell/site"
)

// bench is a panel that reports to a real receiver over TCP. Its own delays run 1,000 times faster.
type bench struct {
	*Panel
	t      *testing.T
	heard  chan signal.Event
	silent bool
	secure atomic.Int64 // frames that came encrypted
}

const panelKey = "000102030405060708090a0b0c0d0e0f"

func start(t *testing.T) *bench {
	t.Helper()
	s, err := site.DecodeYAML("demo", demo.Corrected)
	if err != nil {
		t.Fatal(err)
	}
	profile, err := panel.Builtin(s.Panel.Profile)
	if err != nil {
		t.Fatal(err)
	}
	b := &bench{t: t, heard: make(chan signal.Event, 1000)}
	log := slog.New(slog.NewTextHandler(io.Discard, nil))
	key, err := signal.ParseKey(panelKey)
	if err != nil {
		t.Fatal(err)
	}
	secret := func(string, string) signal.Secret { return signal.Secret{Key: key} }
	r, err := receiver.New(receiver.Config{ID: "r", Log: log, Secret: secret, Deliver: func(_ context.Context, r signal.Received) (signal.Verdict, error) {
		if r.Encrypted {
			b.secure.Add(1)
		}
		for _, e := range r.Events {
			b.heard <- e
		}
		if b.silent {
			return signal.StaySilent, nil
		}
		return r.Proposed, nil
	}})
	if err != nil {
		t.Fatal(err)
	}
	addr, err := r.Listen(t.Context(), "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	b.Panel, err = Start(t.Context(), Config{Site: s, Profile: profile, Signals: addr.String(), Speed: 1000, Now: time.Now, Log: log})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := b.Close(); err != nil {
			t.Error(err)
		}
		if err := r.Shutdown(context.Background()); err != nil {
			t.Error(err)
		}
	})
	return b
}

func (b *bench) do(c Command) {
	b.t.Helper()
	if err := b.Do(c); err != nil {
		b.t.Fatal(err)
	}
}

// hear waits for the next event.
func (b *bench) hear() string {
	b.t.Helper()
	select {
	case e := <-b.heard:
		return strings.TrimSpace(e.Code + " " + string(e.Qualifier) + " " + number2(e.Number))
	case <-time.After(10 * time.Second):
		b.t.Fatal("nothing came")
		return ""
	}
}

func number2(n int) string {
	return strings.TrimPrefix(string(rune('0'+n/100))+string(rune('0'+n/10%10))+string(rune('0'+n%10)), "0")
}

func (b *bench) want(events ...string) {
	b.t.Helper()
	for _, want := range events {
		if got := b.hear(); got != want {
			b.t.Errorf("heard %q, want %q", got, want)
		}
	}
}

func (b *bench) zone(id site.ZoneID) (site.DeviceID, string) {
	z := b.cfg.Site.Zones[id]
	return z.Device, z.Terminal
}

// An alarm never overtakes its restore, however short the trip.
func TestAlarmThenRestoreInOrder(t *testing.T) {
	b := start(t)
	device, terminal := b.zone("11")
	for range 20 {
		b.do(Command{Do: "trip", Device: device, Terminal: terminal})
		b.do(Command{Do: "restore", Device: device, Terminal: terminal})
	}
	b.quiet()
	b.do(Command{Do: "manual-test"})
	pairs := 0
	for got := b.hear(); got != "601 new 00"; got = b.hear() {
		if want := []string{"111 new 11", "111 restore 11"}[pairs%2]; got != want {
			t.Fatalf("event %d is %q, want %q", pairs+1, got, want)
		}
		pairs++
	}
	if pairs == 0 || pairs%2 != 0 {
		t.Errorf("%d events", pairs)
	}
}

// With a key what goes to the receiver is encrypted, and the station's own way stays as it was.
func TestPanelEncrypts(t *testing.T) {
	b := start(t)
	if err := b.Do(Command{Do: "key", Key: "short"}); err == nil || strings.Contains(err.Error(), "short") {
		t.Errorf("%v", err)
	}
	for i, key := range []string{"", panelKey, panelKey, ""} {
		b.do(Command{Do: "key", Key: key})
		b.do(Command{Do: "manual-test"})
		b.want("601 new 00")
		v := b.State()
		for len(v.Sent) == i { // the reply is on its way
			runtime.Gosched()
			v = b.State()
		}
		if v.Encrypts != (key != "") || v.Sent[i].Receiver != "acknowledged" || v.Sent[i].Station != "acknowledged" {
			t.Errorf("%+v", v)
		}
	}
	if n := b.secure.Load(); n != 2 {
		t.Errorf("%d came encrypted", n)
	}
	b.do(Command{Do: "key", Key: strings.Repeat("f", 32)}) // not the one that the receiver has
	b.do(Command{Do: "manual-test"})
	v := b.State()
	for len(v.Sent) == 4 {
		runtime.Gosched()
		v = b.State()
	}
	if !strings.Contains(v.Sent[4].Receiver, "can not process") || v.Sent[4].Station != "acknowledged" {
		t.Errorf("%+v", v.Sent[4])
	}
}

// quiet waits until nothing is planned and no zone is in alarm.
func (b *bench) quiet() {
	b.t.Helper()
	for end := time.Now().Add(10 * time.Second); ; runtime.Gosched() {
		b.mu.Lock()
		planned := b.agenda.Len()
		b.mu.Unlock()
		if v := b.State(); planned == 0 && len(v.Alarms)+len(v.Tripped) == 0 {
			return
		}
		if time.Now().After(end) {
			b.t.Fatalf("the panel does not come to rest: %+v", b.State())
		}
	}
}

func TestTheStationSeesWhatItsPanelSends(t *testing.T) {
	b := start(t)
	device, terminal := b.zone("11")
	b.do(Command{Do: "trip", Device: device, Terminal: terminal})
	b.want("111 new 11")
	st := b.station.state()
	if n := len(st.History); n != 1 || st.History[0].Zone != "11" || st.History[0].Label != b.cfg.Site.Station.ZoneList["11"].Label || st.History[0].OnTest {
		t.Errorf("history %+v", st.History)
	}
	if st := b.station.answer(Call{Do: "on-test", Account: "4817", Until: time.Now().Add(time.Hour)}); st.OnTest || !strings.Contains(st.Says, "4816") {
		t.Errorf("another account: %+v", st.Says)
	}
	if st := b.station.answer(Call{Do: "on-test", Account: "4816", Until: time.Now().Add(time.Hour), Families: []string{"fire"}}); !st.OnTest || !strings.Contains(st.Says, st.Reference) {
		t.Errorf("on test: %+v", st.Says)
	}
}

func TestProvokedFaults(t *testing.T) {
	device := func(b *bench) site.DeviceID { d, _ := b.zone("11"); return d }
	for _, tt := range []struct {
		fault func(*bench) Fault
		want  []string
	}{
		{func(b *bench) Fault { return Fault{Kind: "lose-alarm", Device: device(b)} }, []string{"111 restore 11"}},
		{func(b *bench) Fault { return Fault{Kind: "lose-restore", Device: device(b)} }, []string{"111 new 11"}},
		{func(b *bench) Fault { return Fault{Kind: "swap-zone", Device: device(b), Zone: "12"} }, []string{"111 new 12", "111 restore 12"}},
		{func(b *bench) Fault { return Fault{Kind: "wrong-code", Device: device(b), Code: "130"} }, []string{"130 new 11", "130 restore 11"}},
		{func(b *bench) Fault { return Fault{Kind: "delay", Device: device(b), Seconds: 0.01} }, []string{"111 new 11", "111 restore 11"}},
		{func(b *bench) Fault { return Fault{Kind: "path-down", Path: b.cfg.Site.Zones["11"].Paths[0]} }, nil},
	} {
		b := start(t)
		f := tt.fault(b)
		t.Run(f.Kind, func(t *testing.T) {
			b.t = t
			b.do(Command{Do: "fault", Fault: &f})
			if f.Kind == "path-down" {
				if got := b.hear(); !strings.HasPrefix(got, "35") {
					t.Errorf("the other path reports %q", got)
				}
				return
			}
			d, terminal := b.zone("11")
			b.do(Command{Do: "trip", Device: d, Terminal: terminal})
			b.do(Command{Do: "restore", Device: d, Terminal: terminal})
			b.want(tt.want...)
			b.quiet()
			b.do(Command{Do: "fault-clear"})
			b.do(Command{Do: "manual-test"})
			b.want("601 new 00") // and nothing else in between
		})
	}
}

func TestHeadsTripTheBridgesThatHearThem(t *testing.T) {
	b := start(t)
	b.do(Command{Do: "press-head", Head: "M1"})
	if got := b.hear(); !strings.Contains(got, "new 09") {
		t.Errorf("heard %q", got)
	}
	b.do(Command{Do: "release-head", Head: "M1"})
	if got := b.hear(); !strings.Contains(got, "restore 09") {
		t.Errorf("heard %q", got)
	}
}

// What the pages read has a list where it promises one.
func TestStateHasNoNull(t *testing.T) {
	b := start(t)
	srv := httptest.NewServer(b.Handler())
	defer srv.Close()
	for path, v := range map[string]any{"/api/demo/panel": b.State(), "/api/demo/station": b.station.state()} {
		raw, err := json.Marshal(v)
		if err != nil || strings.Contains(string(raw), "null") {
			t.Errorf("%s: %s %v", path, raw, err)
		}
		resp, err := srv.Client().Get(srv.URL + path)
		if err != nil {
			t.Fatal(err)
		}
		body, err := io.ReadAll(resp.Body)
		if resp.Body.Close(); err != nil || strings.Contains(string(body), "null") {
			t.Errorf("%s: %s %v", path, body, err)
		}
	}
	for body, status := range map[string]int{
		`{"do":"reset"}`: 200, `{"do":"dance"}`: 400, `nonsense`: 400, `{"do":"trip","device":"nothing"}`: 400,
		`{"do":"fault"}`: 400, `{"do":"fault","fault":{"kind":"dance"}}`: 400, `{"do":"fault","fault":{"kind":"delay","seconds":1e9}}`: 400, strings.Repeat("x", 70_000): 400,
	} {
		resp, err := srv.Client().Post(srv.URL+"/api/demo/panel", "application/json", strings.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		if resp.Body.Close(); resp.StatusCode != status {
			t.Errorf("%.40s: %d, want %d", body, resp.StatusCode, status)
		}
	}
}

// Closing while somebody works the panel waits for all of it, and nothing starts afterwards.
func TestCloseWhileWorked(t *testing.T) {
	b := start(t)
	var all sync.WaitGroup
	ids := site.SortedIDs(b.cfg.Site.Devices)
	stop := make(chan struct{})
	for i := range 4 {
		all.Go(func() {
			for n := 0; ; n++ {
				select {
				case <-stop:
					return
				default:
				}
				d := ids[(n*7+i)%len(ids)]
				_ = b.Do(Command{Do: []string{"trip", "restore", "tamper", "tamper-clear"}[n%4], Device: d})
				_ = b.State()
			}
		})
	}
	for len(b.State().Sent) < 5 {
		b.hear()
	}
	if err := b.Close(); err != nil {
		t.Error(err)
	}
	sent := len(b.State().Sent)
	close(stop)
	all.Wait()
	if n := len(b.State().Sent); n != sent {
		t.Errorf("%d events were sent after the end", n-sent)
	}
	b.Panel, _ = Start(context.Background(), b.cfg) // for the clean-up of the bench
	if b.Panel == nil || slices.Contains(b.State().Armed, "9") {
		t.Error("no new panel")
	}
}
