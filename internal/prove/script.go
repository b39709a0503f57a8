package prove

import (
	"cmp"
	"strings"
	"time"

	"proofbell/internal/words"
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
func (v Voice) CallScript(s *site.Site, w Window, families []string, now time.Time, loc *time.Location) []CallLine {
	if loc == nil {
		loc = time.UTC
	}
	local := func(t time.Time) string { return t.In(loc).Format("15:04") }
	l := v.lang
	station := cmp.Or(s.Station.Name, l.Say("the station"))
	var lines []CallLine
	add := func(id, kind string, act Act, format string, args ...any) {
		lines = append(lines, CallLine{ID: id, Kind: kind, Act: act, Say: l.Say(format, args...)})
	}
	switch state := w.State(now); state {
	case WindowOff, WindowOffTest, WindowLapsed, "":
		if state == WindowLapsed {
			add("stop", "do", "", words.Mark("Stop. The window ran out at %s and the account is live. Trip nothing until the station has put it on test again."), local(w.Until))
		}
		add("tell", "do", "", words.Mark("Tell the owner, sleepers, neighbours and anyone who watches the panel that a test begins, and that real smoke means: get out and call %s."), cmp.Or(s.Premises.EmergencyNumber, l.Say("the local emergency number")))
		add("call", "do", ActCall, words.Mark("Call %s%s."), station, phone(s.Station.OnTestPhone))
		add("who", "say", "", words.Mark("My name, my firm, and my passcode. I am at %s."), cmp.Or(words.Join(s.Premises.Address, s.Premises.Locality), l.Say("the address on the account")))
		add("account", "say", "", words.Mark("The account is %s."), v.spell(s.Account.Number))
		add("what", "say", "", words.Mark("Please put on test: %s. NOT on test: %s."), cmp.Or(v.SayFamilies(known(families)), l.Say("nothing yet: choose first")), cmp.Or(v.SayFamilies(NotCovered(families)), l.Say("nothing else")))
		if !s.Station.TestWindow.IsZero() {
			add("until", "say", "", words.Mark("For %s from now."), s.Station.TestWindow)
		} else {
			add("until", "say", "", words.Mark("Until the end time that I name now."))
		}
		add("back", "ask", ActAccountRead, words.Mark("Please read back the account and the address. (Right only when it is %s%s.)"), v.spell(s.Account.Number), address(s))
		add("open", "ask", ActOpen, words.Mark("Please confirm what is on test, until what time, your name, and a reference. Note all four."))
	case WindowCalling:
		add("back", "ask", ActAccountRead, words.Mark("Please read back the account and the address. (Right only when it is %s%s.)"), v.spell(w.Account), address(s))
	case WindowAccountRead:
		add("open", "ask", ActOpen, words.Mark("Please confirm what is on test (%s), until what time, your name, and a reference. Note all four."), v.SayFamilies(w.Families))
	case WindowOpen:
		if w.FirstSeen.IsZero() {
			add("first", "do", "", words.Mark("Send one harmless signal from the panel (a manual or periodic test)."))
			add("first-seen", "ask", ActFirstSignal, words.Mark("Do you see a test signal on account %s, and does it show as on test?"), v.spell(w.Account))
		}
		add("extend", "ask", ActExtend, words.Mark("Ends at %s. If more time is needed: please extend, until what time?"), local(w.Until))
		add("history", "ask", ActReadBack, words.Mark("When all is tripped and restored: please read me the history since %s: time, zone, event, restore."), local(w.Opened))
	case WindowReadBack:
		add("restored", "do", "", words.Mark("Look at the panel: no alarm, no trouble, nothing left out, all covers on."))
		add("off", "ask", ActOff, words.Mark("Please take account %s off test. Is anything still on test or bypassed?"), v.spell(w.Account))
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
func (v Voice) RealSmoke(s *site.Site) Help {
	l := v.lang
	h := Help{Title: l.Say("Real smoke or gas: on test, nobody is coming"), Call: s.Premises.EmergencyNumber, Lines: []string{
		l.Say("Stop. Get everyone out. Do not go back in."),
	}}
	if h.Call != "" {
		h.Lines = append(h.Lines, l.Say("From outside call %s.", h.Call))
	} else {
		h.Lines = append(h.Lines, l.Say("From outside call the local emergency number."))
	}
	if where := words.Join(s.Premises.Address, s.Premises.Locality); where != "" {
		h.Lines = append(h.Lines, l.Say("Say: fire at %s.", where))
	} else {
		h.Lines = append(h.Lines, l.Say("Say where you are: the site has no address yet."))
	}
	station := cmp.Or(s.Station.Name, l.Say("the monitoring station")) + phone(s.Station.OnTestPhone)
	if s.Account.Number != "" {
		station += ", " + l.Say("account %s", v.spell(s.Account.Number))
	}
	h.Lines = append(h.Lines, l.Say("Then call %s: it is real, take the account off test.", station))
	return h
}

// spell writes an account number digit by digit, as it is read out.
func (v Voice) spell(account string) string {
	if account == "" {
		return v.lang.Say("(no account number yet)")
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
	return ", " + words.Join(s.Premises.Address, s.Premises.Locality)
}
