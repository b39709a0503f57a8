package prove

import (
	"math"
	"strings"

	"proofbell/internal/words"
)

func (m *matcher) emptyStrip() PathStrip {
	s := PathStrip{
		Detector: Stop{StopUnproved, m.lang.Say("Not tripped yet")}, Panel: Stop{StopUnproved, m.lang.Say("Nothing shows it yet")},
		Line: Stop{StopUnproved, m.lang.Say("Nothing came here yet")}, Station: Stop{StopUnproved, m.lang.Say("The station has not said so yet")},
	}
	for i := range s.Hops {
		s.Hops[i] = Hop{State: StopUnproved}
	}
	return s
}

// level orders the states of a stop by how much they show.
func (s StopState) level() int {
	switch s {
	case StopProved:
		return 3
	case StopHalf:
		return 2
	case StopWaiting:
		return 1
	}
	return 0
}

func better(a, b Stop) Stop {
	if b.State.level() > a.State.level() {
		return b
	}
	return a
}

// hops sets the state of each hop from its ends, keeping what was measured.
func hops(s *PathStrip) {
	stops := [4]StopState{s.Detector.State, s.Panel.State, s.Line.State, s.Station.State}
	for i := range s.Hops {
		h := &s.Hops[i]
		a, b := stops[i], stops[i+1]
		switch {
		case a == StopFailed || b == StopFailed:
			h.State = StopFailed
		case a.level() >= 2 && b.level() >= 2:
			h.State = StopProved
		case a == StopWaiting || b == StopWaiting:
			h.State = StopWaiting
		default:
			h.State = StopUnproved
		}
		if h.State != StopProved {
			h.Seconds, h.Say = nil, ""
		}
	}
}

// strip draws the four stops of one attempt.
func (m *matcher) strip(a *attempt) {
	s := m.emptyStrip()
	defer func() {
		for _, stop := range []*Stop{&s.Detector, &s.Panel, &s.Line, &s.Station} {
			stop.Say = strings.TrimSuffix(stop.Say, ".")
		}
		hops(&s)
		a.strip = s
	}()
	var here, station, asked, atStation, denied, missing, restoreMissing bool
	var first *heard
	var took *float64
	for i, e := range a.step.Expected {
		r := a.results[i]
		if !e.Optional {
			asked = true
			atStation = atStation || r.AtStation
			denied = denied || !r.AtStation && len(a.denied[e.ID]) > 0
			missing = missing || r.Verdict == NotReceived
			restoreMissing = restoreMissing || r.Verdict == RestoreMissing
		}
		if !e.Role.Ends() {
			here, station = here || r.Here, station || r.AtStation
			if h := m.arrived(a, e); h != nil && first == nil && r.Here {
				first, took = h, r.Seconds
			}
		}
	}
	showed := m.ticked(a.step, PanelShowed, a.at)
	sounded := m.ticked(a.step, Sounded, a.at) || a.step.Kind == StepSound // its trip is to be heard

	filled := StopHalf
	filledSay := m.buttonOr(a)
	if a.method.Proves == Full {
		filled, filledSay = StopProved, m.lang.Say("Tripped: %s", a.method.Name)
	}
	bad := a.verdict.Bad()
	wrong := a.wrong
	if a.verdict != WrongZone && a.verdict != WrongCode {
		wrong = nil // the right one may still come, or came
	}
	switch {
	case wrong != nil && a.verdict == WrongZone && !here && !station && !showed && !sounded:
		s.Detector = Stop{StopWaiting, m.lang.Say("Something reacted, as zone %d", wrong.Event.Number)}
	case here || station || showed || sounded || wrong != nil:
		s.Detector = Stop{filled, filledSay}
	case bad:
		s.Detector = Stop{StopUnproved, m.lang.Say("Tripped; nothing shows that it reacted")}
	default:
		s.Detector = Stop{StopWaiting, m.lang.Say("Tripped")}
	}
	wrongArea := a.wrong == nil && a.verdict == WrongZone
	switch {
	case wrong != nil && !here && !station || wrongArea:
		s.Panel = Stop{StopFailed, a.say}
		s.Line = Stop{StopUnproved, m.lang.Say("A signal came, but not this one")}
	case here || station:
		s.Panel = Stop{StopProved, m.lang.Say("The panel sent it")}
	case showed:
		s.Panel = Stop{StopProved, m.lang.Say("Seen on the panel's display")}
	case bad:
		s.Panel = Stop{StopUnproved, m.lang.Say("Look at the panel: does it show it?")}
	case asked:
		s.Panel = Stop{StopWaiting, m.lang.Say("Waiting for the panel")}
	default:
		s.Panel = Stop{StopUnproved, m.lang.Say("Not asked for in this step")}
	}
	switch {
	case s.Panel.State == StopFailed:
	case restoreMissing && !denied && !m.obs.Locked:
		s.Line = Stop{StopFailed, m.lang.Say("Alarm received, restore missing")}
	case here && took != nil:
		s.Line = Stop{StopProved, m.lang.Say("Received after %s", sayseconds(m.lang, *took))}
	case here:
		s.Line = Stop{StopProved, m.lang.Say("Received")}
	case station:
		s.Line = Stop{StopProved, m.lang.Say("The station has it, so the line carries it")}
	case missing && !m.obs.Locked:
		s.Line = Stop{StopFailed, a.say}
	case m.obs.Locked && asked:
		s.Line = Stop{StopWaiting, m.lang.Say("The panel can not be pointed here: the station has to read back")}
	case asked:
		s.Line = Stop{StopWaiting, m.lang.Say("Waiting for the signal")}
	default:
		s.Line = Stop{StopUnproved, m.lang.Say("Not asked for in this step")}
	}
	if s.Line.State == StopProved && first != nil && first.receivers() > 1 {
		s.Line.Say = m.lang.Say("%s, by %d receivers", s.Line.Say, first.receivers())
	}
	complete := asked
	for i, e := range a.step.Expected {
		complete = complete && (e.Optional || a.results[i].AtStation)
	}
	switch {
	case !a.step.ToStation:
		s.Station = Stop{StopUnproved, m.lang.Say("Not followed to the station in this step")}
	case complete && !wrongArea:
		s.Station = Stop{StopProved, m.lang.Say("Read back by the station")}
	case denied:
		s.Station = Stop{StopFailed, m.lang.Say("The station says that it does not have it")}
	case atStation:
		s.Station = Stop{StopWaiting, m.lang.Say("Read back in part: %s still to be read", m.unread(a))}
	case here:
		s.Station = Stop{StopWaiting, m.lang.Say("Seen here, not yet at the station")}
	case m.obs.Locked && !bad:
		s.Station = Stop{StopWaiting, m.lang.Say("Ask the station to read it back")}
	}
	m.measure(a, &s, first, took)
}

func (m *matcher) unread(a *attempt) string {
	for i, e := range a.step.Expected {
		if !e.Optional && !a.results[i].AtStation {
			return m.lang.Word(roleSay[e.Role])
		}
	}
	return ""
}

// measure puts seconds on the hops, as far as clocks allow: the panel's own time needs its measured offset, the station's
// its own.
func (m *matcher) measure(a *attempt, s *PathStrip, first *heard, took *float64) {
	if first != nil {
		if at, ok := m.stamped(first.Signal); ok {
			s.Hops[0].Seconds, s.Hops[1].Seconds = between(a.at, at), between(at, first.at)
		}
		if s.Hops[1].Seconds == nil && took != nil {
			s.Hops[1].Seconds, s.Hops[1].FromTrip, s.Hops[1].Mark = took, true, sayseconds(m.lang, *took)
			s.Hops[1].Say = m.lang.Say("%s from the trip", s.Hops[1].Mark)
		}
	}
	for i := range s.Hops[:2] {
		if h := &s.Hops[i]; h.Seconds != nil && h.Say == "" {
			h.Say = sayseconds(m.lang, *h.Seconds)
			h.Mark = h.Say
		}
	}
	for i, e := range a.step.Expected {
		if e.Role.Ends() || !a.results[i].AtStation {
			continue
		}
		s.Hops[2].Say = m.lang.Say("read back")
		s.Hops[2].Mark = s.Hops[2].Say
		if m.clocks.Station != nil && first != nil {
			for _, rb := range a.reads[e.ID] {
				if d := between(first.at, m.stationTime(rb)); d != nil && s.Hops[2].Seconds == nil {
					s.Hops[2].Seconds = d
				}
			}
		}
		break
	}
}

func sayseconds(l *words.Language, s float64) string {
	if s < 10 {
		return l.Number(math.Round(s*10)/10, -1) + " s"
	}
	return l.Number(s, 0) + " s"
}
