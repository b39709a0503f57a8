package guide

import (
	"fmt"
	"math"
	"strings"

	"proofbell/internal/keypad"
	"proofbell/internal/words"
	"proofbell/panel"
)

// Rate is how fast the script is spoken, words a minute: slow enough to follow with a finger on the keys.
const Rate = 120

// Scene is one stretch of the spoken guide: first it is said, then the keys are pressed.
type Scene struct {
	N     int          `json:"n"`
	Title string       `json:"title"`
	Show  string       `json:"show"` // what is seen
	Say   string       `json:"say"`
	Press []keypad.Cap `json:"press"`
	Start int          `json:"start"` // ms from the beginning
	Talk  int          `json:"talk"`  // ms of speaking
	Keys  int          `json:"keys"`  // ms of pressing
}

// spoken is how long a text takes, in ms.
func spoken(text string) int { return len(strings.Fields(text)) * 60000 / Rate }

// pressed is how long keys take: those of the profile's own estimate.
func (m *maker) pressed(keys []string, prompts int) int {
	t, waits := m.p.Timing, 0
	for _, key := range keys {
		if key == panel.Wait {
			waits++
		}
	}
	seconds := float64(len(keys)-waits)*t.PerKey.SI() + float64(prompts)*t.PerPrompt.SI() + float64(waits)*m.p.Keypad.LetterPause.SI()
	return int(math.Round(seconds * 1000))
}

// scenes writes the spoken guide.
func (m *maker) scenes(g *Course) {
	l := m.l
	at := 0
	add := func(s Scene) {
		s.N, s.Start = len(g.Scenes)+1, at
		s.Talk = spoken(s.Say)
		if s.Press == nil {
			s.Press = []keypad.Cap{}
		}
		at += s.Talk + s.Keys
		g.Scenes = append(g.Scenes, s)
	}
	front := l.Say("The keypad from the front, nothing pressed")
	remind := ""
	if g.Practice != "" { // whoever comes in later has to hear it too
		remind = l.Say("This is practice: never key it into a real panel.")
	}
	add(Scene{Title: g.Title, Show: front, Say: sentences(g.Practice, g.Title+".", g.Name+".", strings.Join(g.Intro, " "))})
	add(Scene{Title: g.Head.First, Show: l.Say("The telephone beside the panel; the lid stays closed"), Say: strings.Join(g.First, " ")})
	add(Scene{Title: g.Head.Keypad, Show: front, Say: strings.Join(g.Keypad, " ")})
	for _, c := range g.Chapters {
		add(Scene{Title: c.Title, Show: l.Say("The device of zone %s, then the keypad", c.Zone), Say: sentences(c.Title+".", remind, strings.Join(c.Watches, " "), m.stopped(c))})
		for _, st := range c.Steps {
			s := Scene{Title: m.heading(st), Show: l.Say("Display and keypad, close"), Keys: m.pressed(st.keys, st.prompts)}
			s.Press = st.Press
			switch st.Told {
			case Before:
				s.Say = st.Say
			case Taught:
				s.Say = sentences(st.Title+".", strings.Join(st.Why, " "), m.moves(st.Moves, m.that(st.Answer)), st.Caution)
			default:
				s.Say = sentences(m.two(l.Say("%s: press %s.", st.Title, m.aloud(st.Press)), l.Say("%s: pressed %s.", st.Title, m.aloud(st.Press))), m.that(st.Answer), strings.Join(st.Why, " "), st.Caution)
			}
			add(s)
		}
		if c.CheckAs != "" {
			var keys []string
			var caps []keypad.Cap
			for _, mv := range c.check {
				caps = append(caps, mv.Press...)
				keys = append(keys, mv.keys...)
			}
			add(Scene{Title: g.Head.Read, Show: l.Say("The display, close"), Say: c.CheckAs, Press: caps, Keys: m.pressed(keys, len(c.check))})
		}
	}
	if len(g.Lost) > 0 {
		add(Scene{Title: g.Head.Lost, Show: l.Say("The display, close"), Say: strings.Join(g.Lost, " ")})
	}
	if len(g.Leave) > 0 {
		add(Scene{Title: l.Say("Leave programming"), Show: l.Say("Display and keypad, close"), Say: m.moves(g.Leave, ""), Press: g.Leave[0].Press, Keys: m.pressed(g.Leave[0].keys, 1)})
	}
	add(Scene{Title: g.Head.Close, Show: front, Say: sentences(strings.Join(g.Close, " "), remind)})
	g.Length = l.Say("About %s, spoken at %d words a minute, each key %s, each prompt %s. An estimate.", clock(at), Rate, l.Measure(m.p.Timing.PerKey), l.Measure(m.p.Timing.PerPrompt))
}

func (m *maker) stopped(c Chapter) string {
	if len(c.Stops) == 0 {
		return ""
	}
	return m.l.Say("It must not be keyed: %s", strings.Join(c.Stops, " "))
}

func (m *maker) heading(st Step) string {
	if st.Told == Taught {
		return st.Label + ": " + st.Title
	}
	return st.Label
}

func (m *maker) that(answer string) string {
	if answer == "" {
		return ""
	}
	return m.l.Say("That is: %s.", answer)
}

// moves says what to press, what that is, and what the panel shows then.
func (m *maker) moves(list []Move, that string) string {
	var out []string
	for _, mv := range list {
		out = append(out, m.two(m.l.Say("The panel shows %s Press %s.", stop(mv.Shows), m.aloud(mv.Press)), m.l.Say("The panel shows %s Pressed: %s.", stop(mv.Shows), m.aloud(mv.Press))))
	}
	out = append(out, that)
	if n := len(list); n > 0 && list[n-1].Then != "" {
		out = append(out, m.l.Say("Then it shows %s", stop(list[n-1].Then)))
	}
	return sentences(out...)
}

// often says how many times from two on.
var often = []string{words.Mark("%s twice"), words.Mark("%s three times"), words.Mark("%s four times"), words.Mark("%s five times"), words.Mark("%s six times")}

// aloud says keys as one reads them out.
func (m *maker) aloud(caps []keypad.Cap) string {
	l := m.l
	var out []string
	for _, c := range caps {
		key, n := c.Key, c.Times
		if r := []rune(key); len(r) > 1 && strings.Trim(key, "0123456789") == "" {
			if strings.Trim(key, string(r[0])) == "" {
				key, n = string(r[0]), len(r)
			} else {
				key = strings.Join(strings.Split(key, ""), " ")
			}
		}
		switch {
		case c.Until != "":
			key += " " + c.Until
		case c.Wait:
			key = l.Say("wait %s", l.Measure(m.p.Keypad.LetterPause))
		case n > 1 && n-2 < len(often):
			key = l.Say(often[n-2], key)
		case n > 1:
			key = l.Say("%s %d times", key, n)
		}
		out = append(out, key)
	}
	return strings.Join(out, ", ")
}

// stop ends a text that is quoted inside of a sentence, unless it ends by itself.
func stop(text string) string {
	if strings.HasSuffix(text, "?") || strings.HasSuffix(text, ".") {
		return text
	}
	return text + "."
}

// sentences joins what is not empty.
func sentences(parts ...string) string {
	var out []string
	for _, p := range parts {
		if p = strings.TrimSpace(p); p != "" {
			out = append(out, p)
		}
	}
	return strings.Join(out, " ")
}

// clock writes ms as minutes and seconds.
func clock(ms int) string { return fmt.Sprintf("%d:%02d", ms/60000, ms/1000%60) }
