package prove

import (
	"fmt"
	"strings"
	"time"

	"proofbell/site"
)

// CallLine is one line of a call to the station: to say, to ask, or to do.
type CallLine struct {
	ID   string `json:"id"`
	Kind string `json:"kind"` // say (read it out), ask (tick when answered rightly), do (before or after the call)
	Say  string `json:"say"`
	Act  Act    `json:"act"` // the act that this line is the ground for; "" none
}

// CallScript is what to say and ask in the call that comes next: going on test, extending, reading back, or coming off.
// families are those wanted on test while the window is not open yet; loc is the time zone of the site, nil for UTC.
func CallScript(s *site.Site, w Window, families []string, now time.Time, loc *time.Location) []CallLine {
	if loc == nil {
		loc = time.UTC
	}
	local := func(t time.Time) string { return t.In(loc).Format("15:04") }
	station := or(s.Station.Name, "the station")
	var lines []CallLine
	add := func(id, kind string, act Act, format string, args ...any) {
		lines = append(lines, CallLine{ID: id, Kind: kind, Act: act, Say: fmt.Sprintf(format, args...)})
	}
	switch state := w.State(now); state {
	case WindowOff, WindowOffTest, WindowLapsed, "":
		if state == WindowLapsed {
			add("stop", "do", "", "Stop. The window ran out at %s and the account is live. Trip nothing until the station has put it on test again.", local(w.Until))
		}
		add("tell", "do", "", "Tell the owner, sleepers, neighbours and anyone who watches the panel that a test begins, and that real smoke means: get out and call %s.", or(s.Premises.EmergencyNumber, "the local emergency number"))
		add("call", "do", ActCall, "Call %s%s.", station, phone(s.Station.OnTestPhone))
		add("who", "say", "", "My name, my firm, and my passcode. I am at %s.", or(join(s.Premises.Address, s.Premises.Locality), "the address on the account"))
		add("account", "say", "", "The account is %s.", spell(s.Account.Number))
		add("what", "say", "", "Please put on test: %s. NOT on test: %s.", or(SayFamilies(known(families)), "nothing yet: choose first"), or(SayFamilies(NotCovered(families)), "nothing else"))
		if !s.Station.TestWindow.IsZero() {
			add("until", "say", "", "For %s from now.", s.Station.TestWindow)
		} else {
			add("until", "say", "", "Until the end time that I name now.")
		}
		add("back", "ask", ActAccountRead, "Please read back the account and the address. (Right only when it is %s%s.)", spell(s.Account.Number), address(s))
		add("open", "ask", ActOpen, "Please confirm what is on test, until what time, your name, and a reference. Note all four.")
	case WindowCalling:
		add("back", "ask", ActAccountRead, "Please read back the account and the address. (Right only when it is %s%s.)", spell(w.Account), address(s))
	case WindowAccountRead:
		add("open", "ask", ActOpen, "Please confirm what is on test (%s), until what time, your name, and a reference. Note all four.", SayFamilies(w.Families))
	case WindowOpen:
		if w.FirstSeen.IsZero() {
			add("first", "do", "", "Send one harmless signal from the panel (a manual or periodic test).")
			add("first-seen", "ask", ActFirstSignal, "Do you see a test signal on account %s, and does it show as on test?", spell(w.Account))
		}
		add("extend", "ask", ActExtend, "Ends at %s. If more time is needed: please extend, until what time?", local(w.Until))
		add("history", "ask", ActReadBack, "When all is tripped and restored: please read me the history since %s: time, zone, event, restore.", local(w.Opened))
	case WindowReadBack:
		add("restored", "do", "", "Look at the panel: no alarm, no trouble, nothing left out, all covers on.")
		add("off", "ask", ActOff, "Please take account %s off test. Is anything still on test or bypassed?", spell(w.Account))
	}
	return lines
}

// Help is what to do when the smoke is real. It is the same on every stage.
type Help struct {
	Title string   `json:"title"`
	Lines []string `json:"lines"` // in order: get out, call, the address, the station
	Call  string   `json:"call"`  // emergency number, "" when the site does not say
}

// RealSmoke is the help for real smoke or gas while a test runs.
func RealSmoke(s *site.Site) Help {
	h := Help{Title: "Real smoke or gas: on test, nobody is coming", Call: s.Premises.EmergencyNumber, Lines: []string{
		"Stop. Get everyone out. Do not go back in.",
	}}
	if h.Call != "" {
		h.Lines = append(h.Lines, "From outside call "+h.Call+".")
	} else {
		h.Lines = append(h.Lines, "From outside call the local emergency number.")
	}
	if where := join(s.Premises.Address, s.Premises.Locality); where != "" {
		h.Lines = append(h.Lines, "Say: fire at "+where+".")
	} else {
		h.Lines = append(h.Lines, "Say where you are: the site has no address yet.")
	}
	station := "Then call " + or(s.Station.Name, "the monitoring station") + phone(s.Station.OnTestPhone)
	if s.Account.Number != "" {
		station += ", account " + spell(s.Account.Number)
	}
	h.Lines = append(h.Lines, station+": it is real, take the account off test.")
	return h
}

// spell writes an account number digit by digit, as it is read out.
func spell(account string) string {
	if account == "" {
		return "(no account number yet)"
	}
	return strings.Join(strings.Split(account, ""), " ")
}

func phone(number string) string {
	if number == "" {
		return ""
	}
	return ", " + number
}

func address(s *site.Site) string {
	if s.Premises.Address == "" {
		return ""
	}
	return ", " + join(s.Premises.Address, s.Premises.Locality)
}

func join(parts ...string) string {
	var kept []string
	for _, p := range parts {
		if p != "" {
			kept = append(kept, p)
		}
	}
	return strings.Join(kept, ", ")
}

func or(a, b string) string {
	if a == "" {
		return b
	}
	return a
}
