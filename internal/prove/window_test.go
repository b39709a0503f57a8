package prove

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"proofbell/site"

	"pgregory.net/rapid"
)

// goodCall is the whole course of a test window, act by act, as the etiquette has it.
func goodCall() []struct {
	ev WindowEvent
	s  float64
} {
	return []struct {
		ev WindowEvent
		s  float64
	}{
		{WindowEvent{Act: ActCall, Account: "4816", Families: []string{"trouble", "fire"}, Told: []string{"owner"}}, 0},
		{WindowEvent{Act: ActAccountRead, Account: "4816", Address: true}, 60},
		{WindowEvent{Act: ActOpen, Families: []string{"fire", "trouble"}, Until: at(7200), Private: Private{Operator: "B. Ferrant", Reference: "T-17"}}, 90},
		{WindowEvent{Act: ActFirstSignal, Signal: "s0"}, 150},
		{WindowEvent{Act: ActExtend, Until: at(9000)}, 6700},
		{WindowEvent{Act: ActReadBack}, 8000},
		{WindowEvent{Act: ActOff, Nothing: true, Private: Private{Words: "nothing on test"}}, 8100},
	}
}

func TestWindowCourse(t *testing.T) {
	w := Window{}
	states := []WindowState{WindowCalling, WindowAccountRead, WindowOpen, WindowOpen, WindowOpen, WindowReadBack, WindowOffTest}
	for i, step := range goodCall() {
		var err error
		if w, err = w.Apply(step.ev, "tamsin", at(step.s)); err != nil {
			t.Fatalf("%s: %v", step.ev.Act, err)
		}
		if w.State(at(step.s)) != states[i] {
			t.Errorf("after %s: %s, want %s", step.ev.Act, w.State(at(step.s)), states[i])
		}
	}
	if w.Extended != 1 || w.FirstSignal != "s0" || w.Operator != "B. Ferrant" || w.Reference != "T-17" || w.By != "tamsin" || len(w.Words) != 1 || w.Until != at(9000) {
		t.Errorf("%+v", w)
	}
	again, err := w.Apply(goodCall()[0].ev, "piet", at(9500))
	if err != nil || len(again.Earlier) != 1 || again.Earlier[0] != (Span{at(90), at(8100)}) || again.Operator != "" || !again.wasOpen(at(7000)) || again.wasOpen(at(8500)) {
		t.Errorf("the second call forgot the first window: %+v, %v", again, err)
	}
}

func TestWindowGuards(t *testing.T) {
	after := func(n int, more ...WindowEvent) Window {
		w := Window{}
		for _, step := range goodCall()[:n] {
			var err error
			if w, err = w.Apply(step.ev, "tamsin", at(step.s)); err != nil {
				t.Fatal(err)
			}
		}
		return w
	}
	tests := []struct {
		name string
		w    Window
		ev   WindowEvent
		s    float64
		err  error
		need string
	}{
		{"open before the account was read back", after(1), goodCall()[2].ev, 70, ErrOrder, "read back account"},
		{"open without a call", after(0), goodCall()[2].ev, 70, ErrOrder, "read back account"},
		{"account read back before the call", after(0), goodCall()[1].ev, 5, ErrOrder, "call the station"},
		{"another account", after(1), WindowEvent{Act: ActAccountRead, Account: "4861", Address: true}, 60, ErrAccount, "4861"},
		{"address not read back", after(1), WindowEvent{Act: ActAccountRead, Account: "4816"}, 60, ErrMissing, "address"},
		{"no account number", after(0), WindowEvent{Act: ActCall, Families: []string{"fire"}}, 0, ErrMissing, "account"},
		{"nothing named", after(0), WindowEvent{Act: ActCall, Account: "4816", Families: []string{"everything"}}, 0, ErrMissing, "what is to be on test"},
		{"end in the past", after(2), WindowEvent{Act: ActOpen, Families: []string{"fire"}, Until: at(80), Private: Private{Operator: "B"}}, 90, ErrTime, "ahead"},
		{"longer than a day", after(2), WindowEvent{Act: ActOpen, Families: []string{"fire"}, Until: at(90000), Private: Private{Operator: "B"}}, 90, ErrTime, "writing"},
		{"nobody's name", after(2), WindowEvent{Act: ActOpen, Families: []string{"fire"}, Until: at(7200)}, 90, ErrMissing, "name"},
		{"first signal before open", after(2), WindowEvent{Act: ActFirstSignal}, 90, ErrOrder, "on test"},
		{"extension to an earlier end", after(3), WindowEvent{Act: ActExtend, Until: at(7000)}, 100, ErrTime, "later"},
		{"extension after the lapse", after(3), WindowEvent{Act: ActExtend, Until: at(9000)}, 7200, ErrOrder, "live"},
		{"a second call while open", after(3), goodCall()[0].ev, 100, ErrOrder, "on test until"},
		{"off without the read-back", after(3), goodCall()[6].ev, 100, ErrOrder, "history"},
		{"off with something left", after(6), WindowEvent{Act: ActOff}, 8100, ErrMissing, "anything"},
		{"off twice", after(7), goodCall()[6].ev, 8200, ErrOrder, "taken off"},
		{"lapse of an open window", after(3), WindowEvent{Act: ActLapse}, 100, ErrOrder, "not run out"},
		{"dropping an open window", after(3), WindowEvent{Act: ActAbandon}, 100, ErrOrder, "only a call"},
		{"an act nobody knows", after(3), WindowEvent{Act: "sing"}, 100, ErrOrder, "not known"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, err := tt.w.Apply(tt.ev, "tamsin", at(tt.s))
			var guard *GuardError
			if !errors.Is(err, tt.err) || !errors.As(err, &guard) || !strings.Contains(guard.Need.String(), tt.need) {
				t.Fatalf("%v", err)
			}
			if text(t, got) != text(t, tt.w) {
				t.Error("a refused act changed the window")
			}
		})
	}
}

// TestWindowOrder: whatever is tried in whatever order, the account is on test only after the right account was read back,
// and never after its time.
func TestWindowOrder(t *testing.T) {
	acts := []Act{ActCall, ActAccountRead, ActOpen, ActFirstSignal, ActExtend, ActLapse, ActReadBack, ActOff, ActAbandon}
	rapid.Check(t, func(t *rapid.T) {
		w, now, read := Window{}, 0.0, false
		for range rapid.IntRange(1, 25).Draw(t, "acts") {
			now += float64(rapid.IntRange(0, 3000).Draw(t, "later"))
			ev := WindowEvent{
				Act: rapid.SampledFrom(acts).Draw(t, "act"), Account: rapid.SampledFrom([]string{"4816", "4861"}).Draw(t, "account"),
				Address: true, Families: []string{"fire"}, Until: at(now + float64(rapid.IntRange(-100, 8000).Draw(t, "until"))), Nothing: rapid.Bool().Draw(t, "nothing"),
				Private: Private{Operator: "B"},
			}
			if ev.Act == ActCall {
				ev.Account = "4816"
			}
			was := w.OnTest(at(now))
			next, err := w.Apply(ev, "t", at(now))
			if err != nil {
				continue
			}
			switch ev.Act {
			case ActAccountRead:
				read = ev.Account == "4816"
			case ActCall, ActAbandon, ActOff:
				read = false
			}
			w = next
			if w.OnTest(at(now)) && !read {
				t.Fatalf("on test without the right account read back: %+v", w)
			}
			if w.OnTest(w.Until) || w.OnTest(at(now)) && !was && ev.Act != ActOpen {
				t.Fatalf("on test beyond its time, or by %s: %+v", ev.Act, w)
			}
			if MayAcknowledge(w, "4861", false, at(now)) || MayAcknowledge(w, "4816", false, at(now)) != w.OnTest(at(now)) {
				t.Fatalf("answering while nobody watches: %+v", w)
			}
		}
	})
}

func TestCountdown(t *testing.T) {
	w := open()
	end := w.Until
	for _, tt := range []struct {
		before time.Duration
		on     bool
		extend bool
	}{{time.Hour, true, false}, {10*time.Minute + time.Second, true, false}, {10 * time.Minute, true, true}, {time.Second, true, true}, {0, false, false}, {-time.Hour, false, false}} {
		now := end.Add(-tt.before)
		if w.OnTest(now) != tt.on || w.ExtendNow(now) != tt.extend || w.Left(now) != max(0, tt.before) {
			t.Errorf("%v before the end: on %v, extend %v, left %v", tt.before, w.OnTest(now), w.ExtendNow(now), w.Left(now))
		}
	}
	if w.State(end) != WindowLapsed {
		t.Errorf("at the end: %s", w.State(end))
	}
}

func TestMayTrip(t *testing.T) {
	plan := Plan(house(), nil, Options{})
	smoke, first, panic7 := step1(t, plan, "13.alarm"), step1(t, plan, "panel.test"), step1(t, plan, "07.alarm")
	fresh := open()
	fresh.FirstSeen, fresh.FirstSignal = time.Time{}, ""
	fire := open()
	fire.Families = []string{"fire", "trouble"}
	for _, tt := range []struct {
		name string
		w    Window
		st   Step
		s    float64
		ok   bool
		say  string
	}{
		{"off", Window{}, smoke, 0, false, "Not on test"},
		{"open, no first signal", fresh, smoke, 0, false, "harmless signal"},
		{"the first signal itself", fresh, first, 0, true, ""},
		{"open", open(), smoke, 0, true, ""},
		{"family not on test", fire, panic7, 0, false, "Not on test: panic"},
		{"lapsed", open(), smoke, 5 * 3600, false, "Stop: do not trip"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if ok, say := tt.w.MayTrip(tt.st, at(tt.s)); ok != tt.ok || !strings.Contains(say.String(), tt.say) {
				t.Errorf("%v %q", ok, say)
			}
		})
	}
}

func TestExtendedAfterTheReadBack(t *testing.T) {
	w, smoke := open(), step1(t, Plan(house(), nil, Options{}), "13.alarm")
	var err error
	if w, err = w.Apply(WindowEvent{Act: ActReadBack}, "t", at(10)); err != nil {
		t.Fatal(err)
	}
	if ok, say := w.MayTrip(smoke, at(11)); ok || !strings.Contains(say.String(), "Extend") {
		t.Errorf("tripping behind a read-back: %v %q", ok, say)
	}
	if w, err = w.Apply(WindowEvent{Act: ActExtend, Until: at(5 * 3600)}, "t", at(12)); err != nil {
		t.Fatal(err)
	}
	if ok, say := w.MayTrip(smoke, at(13)); !ok {
		t.Errorf("after the extension: %q", say)
	}
	if _, err = w.Apply(WindowEvent{Act: ActOff, Nothing: true}, "t", at(14)); !errors.Is(err, ErrOrder) {
		t.Errorf("what was tripped since is not read back: %v", err)
	}
}

func TestMayAcknowledgePractice(t *testing.T) {
	if !MayAcknowledge(Window{}, "4816", true, t0) || MayAcknowledge(Window{}, "", true, t0) || MayAcknowledge(open(), "4861", true, t0) {
		t.Error("a practice job answers for its own account, and for no other")
	}
}

func TestFamilies(t *testing.T) {
	if Covers([]string{"fire"}, site.CO) || !Covers([]string{"fire"}, site.Heat) || !Covers([]string{"trouble"}, site.Keyswitch) {
		t.Error("a family covers its own kinds, no other")
	}
	on := []string{"trouble", "fire"}
	if got := SayFamilies(on); got != "fire, trouble and tests" {
		t.Errorf("%q", got)
	}
	if off := NotCovered(on); slices.Contains(off, "fire") || len(off) != len(Families())-2 {
		t.Errorf("%v", off)
	}
	for _, k := range site.ZoneKinds {
		if FamilyOf(k.Kind) == "" || sayFamily(FamilyOf(k.Kind)) == "" || !slices.ContainsFunc(Families(), func(f struct{ ID, Say string }) bool { return f.ID == FamilyOf(k.Kind) }) {
			t.Errorf("%s has no family that can be put on test", k.Kind)
		}
	}
}

func TestCallScript(t *testing.T) {
	s := house()
	all := func(lines []CallLine) string {
		text := ""
		for _, l := range lines {
			text += l.Say + "\n"
		}
		return text
	}
	says := func(w Window, now time.Time, want ...string) {
		t.Helper()
		got := all(CallScript(s, w, []string{"fire", "trouble"}, now, nil))
		for _, x := range want {
			if !strings.Contains(got, x) {
				t.Errorf("%q is not said in:\n%s", x, got)
			}
		}
	}
	says(Window{}, t0, "555-0145", "4 8 1 6", "1 Mill Lane", "put on test: fire, trouble and tests", "NOT on test: CO", "read back the account and the address", "911")
	says(open(), t0, "extend", "history since 13:50")
	fresh := open()
	fresh.FirstSeen = time.Time{}
	says(fresh, t0, "harmless signal")
	says(open(), at(5*3600), "Stop.", "live")
	w := open()
	w.Stage = WindowReadBack
	says(w, t0, "anything still on test or bypassed")
	zone := time.FixedZone("east", -4*3600)
	if got := all(CallScript(s, open(), nil, t0, zone)); !strings.Contains(got, "since 09:50") {
		t.Errorf("times are read out as the site's clock shows them:\n%s", got)
	}
	for _, l := range CallScript(&site.Site{}, Window{}, nil, t0, nil) {
		if strings.Contains(l.Say, "%!") || l.ID == "" {
			t.Errorf("an empty site: %+v", l)
		}
	}
}

func TestRealSmoke(t *testing.T) {
	h := RealSmoke(house())
	order := []string{"Get everyone out", "911", "1 Mill Lane, Sallow Falls", "Cawder Reach Monitoring, 555-0145, account 4 8 1 6"}
	if len(h.Lines) != len(order) || h.Call != "911" {
		t.Fatalf("%+v", h)
	}
	for i, want := range order {
		if !strings.Contains(h.Lines[i], want) {
			t.Errorf("line %d: %q, want ...%s", i+1, h.Lines[i], want)
		}
	}
	if empty := RealSmoke(&site.Site{}); len(empty.Lines) != 4 || !strings.Contains(empty.Lines[1], "local emergency number") {
		t.Errorf("%+v", empty)
	}
}
