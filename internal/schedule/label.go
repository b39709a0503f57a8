package schedule

import (
	"slices"
	"strings"

	"proofbell/internal/labels"
	"proofbell/panel"
	"proofbell/site"
)

// labeller makes labels from spoken words and remembers those in use.
type labeller struct {
	p     *panel.Profile
	inUse map[string]bool // spoken numbers of the words, joined
}

func newLabeller(s *site.Site, p *panel.Profile) *labeller {
	l := &labeller{p, map[string]bool{}}
	for _, z := range s.Zones {
		codes, _ := p.SayZone(z)
		l.inUse[strings.Join(codes, " ")] = true
	}
	return l
}

// label makes a label of place and danger, in words that the panel speaks and unlike every other zone's.
func (c *candidate) label(s *site.Site, l *labeller) string {
	danger := l.danger(c.senses, openingWord(s, c))
	if danger == nil {
		c.remarks = append(c.remarks, c.lang.Say("The panel has no words for what it senses. Choose a label."))
		return ""
	}
	place := l.place(s, c.room)
	if c.senses == site.SensesThree || c.senses == site.SensesFour {
		place = nil // the group is heard, not the room
	}
	most := l.p.Label.Words
	danger = danger[:min(len(danger), most)]
	if o, ok := opening(s, c); ok && c.senses == site.SensesOpening {
		if words := strings.Fields(strings.ToUpper(o.Name)); len(words) > 0 && len(words) <= most && l.free(words) {
			l.take(words)
			c.because("label", c.lang.Say("The name of the opening, which the panel can say."))
			return labels.Written(words)
		}
	}
	for _, extra := range l.extras(s, c.room) {
		room := most - len(danger) - len(extra)
		if room < 0 {
			continue
		}
		words := slices.Concat(place[:min(len(place), room)], danger, extra)
		if l.free(words) {
			l.take(words)
			why := c.lang.Say("Place and danger in the panel's own words, unlike every other label.")
			if len(place) == 0 && c.senses != site.SensesThree && c.senses != site.SensesFour {
				c.remarks = append(c.remarks, c.lang.Say("The panel has no words for the room. Say where it is if another word fits."))
				why = c.lang.Say("The danger in the panel's own words.")
			}
			c.because("label", why)
			return labels.Written(words)
		}
	}
	c.remarks = append(c.remarks, c.lang.Say("Every label that the panel could say is taken. Choose one."))
	return ""
}

// free reports whether the panel can say these words and no zone says them yet.
func (l *labeller) free(words []string) bool {
	codes, missing := l.p.SayWords(words)
	return len(missing) == 0 && !l.inUse[strings.Join(codes, " ")]
}

func (l *labeller) take(words []string) {
	codes, _ := l.p.SayWords(words)
	l.inUse[strings.Join(codes, " ")] = true
}

func (l *labeller) sayable(words []string) bool {
	_, missing := l.p.SayWords(words)
	return len(missing) == 0
}

func (l *labeller) danger(senses, opening string) []string {
	options := labels.Dangers(senses)
	if opening != "" {
		options = append([]string{opening}, options...)
	}
	for _, o := range options {
		if words := strings.Fields(o); l.sayable(words) {
			return words
		}
	}
	return nil
}

func openingWord(s *site.Site, c *candidate) string {
	if c.senses != site.SensesOpening {
		return ""
	}
	o, ok := opening(s, c)
	switch {
	case ok && o.Kind == "hatch":
		return "HATCH"
	case ok && o.Kind == "window":
		return "GLASS"
	}
	return ""
}

// place gives the spoken words of a room: those of its name that the panel has, else words it proposes instead, else its use.
func (l *labeller) place(s *site.Site, id site.RoomID) []string {
	r := s.Rooms[id]
	var direct, instead []string
	for _, w := range strings.FieldsFunc(strings.ToUpper(r.Name), func(c rune) bool { return (c < 'A' || c > 'Z') && c < 0x80 }) {
		switch other := l.p.SayInstead(w); {
		case l.sayable([]string{w}):
			direct = append(direct, w)
		case other != nil:
			instead = append(instead, other...)
		}
	}
	use := strings.ToUpper(r.Use)
	switch {
	case len(direct) > 0:
		return unique(direct)
	case len(instead) > 0:
		return unique(instead)
	case use != "" && l.sayable([]string{use}):
		return []string{use}
	}
	return nil
}

func unique(words []string) []string {
	var out []string
	for _, w := range words {
		if !slices.Contains(out, w) {
			out = append(out, w)
		}
	}
	return out
}

// extras are words that tell two labels apart: none, up or down by the storey, then numbers.
func (l *labeller) extras(s *site.Site, room site.RoomID) [][]string {
	out := [][]string{nil}
	add := func(w string) {
		if l.sayable([]string{w}) {
			out = append(out, []string{w})
		}
	}
	if st, ok := s.StoreyOfRoom(room); ok {
		switch level := s.Storeys[st].Level.SI(); {
		case level > 0:
			add("UP")
		case level < 0:
			add("DOWN")
		}
	}
	for _, w := range []string{"ONE", "TWO", "THREE", "FOUR", "FIVE", "SIX", "SEVEN", "EIGHT", "NINE", "TEN"} {
		add(w)
	}
	return out
}
