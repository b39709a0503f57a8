package guide

import (
	"fmt"
	"strings"

	"proofbell/internal/keypad"
	"proofbell/internal/words"
)

// Script writes the spoken guide as plain text: for each scene when it begins, what to show, what to say, what to press.
func Script(g Course) string {
	l := words.In(g.Lang)
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %s\n%s\n%s\n", g.Title, g.Name, g.Panel, g.Length)
	if g.Practice != "" {
		fmt.Fprintf(&b, "%s\n", g.Practice)
	}
	for _, s := range g.Scenes {
		fmt.Fprintf(&b, "\n%s  %s  %s\n", l.Say("SCENE %d", s.N), clock(s.Start), s.Title)
		line := func(name, text string) {
			if text != "" {
				fmt.Fprintf(&b, "%-8s %s\n", name, strings.Join(wrap(text, 100), "\n         "))
			}
		}
		line(l.Say("SHOW"), s.Show)
		line(l.Say("SAY"), s.Say)
		if s.Keys > 0 {
			line(l.Say("PRESS"), l.Say("%s (%s s)", inBoxes(s.Press), l.Number(float64(s.Keys)/1000, 1)))
		}
	}
	fmt.Fprintf(&b, "\n%s  %s\n", clock(g.end()), l.Say("END"))
	return b.String()
}

// end is when the last scene ends, in ms.
func (g Course) end() int {
	if len(g.Scenes) == 0 {
		return 0
	}
	last := g.Scenes[len(g.Scenes)-1]
	return last.Start + last.Talk + last.Keys
}

// inBoxes writes keys as plain text.
func inBoxes(caps []keypad.Cap) string {
	var out []string
	for _, c := range caps {
		text := "[" + c.Key + "]"
		if c.Times > 1 {
			text += fmt.Sprintf("x%d", c.Times)
		}
		if c.Until != "" {
			text += " " + c.Until
		}
		out = append(out, text)
	}
	return strings.Join(out, " ")
}

// A caption has at most captionLines lines of captionWide characters.
const (
	captionLines = 2
	captionWide  = 42
)

// Captions writes the spoken guide as WebVTT (W3C WebVTT: The Web Video Text Tracks Format): cues in order, none over
// another, each of at most two lines of 42 characters.
func Captions(g Course) string {
	l := words.In(g.Lang)
	var b strings.Builder
	b.WriteString("WEBVTT\n\nNOTE\n")
	for _, line := range []string{g.Title, g.Name, g.Panel, g.Length, g.Practice} {
		if line = escaped(line); line != "" {
			b.WriteString(line + "\n")
		}
	}
	n := 0
	cues := func(text string, from, to int) {
		list := cuesOf(clean(text))
		all := 0
		for _, lines := range list {
			all += len(strings.Fields(strings.Join(lines, " ")))
		}
		said := 0
		for _, lines := range list {
			start := from + (to-from)*said/max(all, 1)
			said += len(strings.Fields(strings.Join(lines, " ")))
			end := from + (to-from)*said/max(all, 1)
			if end <= start {
				continue // no time to read it
			}
			n++
			fmt.Fprintf(&b, "\n%d\n%s --> %s\n", n, stamp(start), stamp(end))
			for _, line := range lines {
				b.WriteString(escaped(line) + "\n")
			}
		}
	}
	for _, s := range g.Scenes {
		cues(s.Say, s.Start, s.Start+s.Talk)
		if s.Keys > 0 {
			cues(l.Say("Press: %s", inBoxes(s.Press)), s.Start+s.Talk, s.Start+s.Talk+s.Keys)
		}
	}
	return b.String()
}

// stamp writes a time as a cue has it: hours, minutes, seconds, ms.
func stamp(ms int) string {
	return fmt.Sprintf("%02d:%02d:%02d.%03d", ms/3600000, ms/60000%60, ms/1000%60, ms%1000)
}

// vtt are the characters that mean something in a cue. An arrow can not come about: ">" is one of them.
var vtt = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;")

// escaped writes a text as one line of a cue.
func escaped(text string) string { return vtt.Replace(clean(text)) }

// clean makes one line of a text: control characters are spaces, and there is one space between words.
func clean(text string) string {
	text = strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f || r == '\uFFFD' {
			return ' '
		}
		return r
	}, text)
	return strings.Join(strings.Fields(text), " ")
}

// cuesOf cuts a text into captions: whole sentences together where they fit, a long sentence by its lines.
func cuesOf(text string) [][]string {
	var out [][]string
	held := ""
	flush := func() {
		lines := wrap(held, captionWide)
		for len(lines) > 0 {
			n := min(captionLines, len(lines))
			out = append(out, lines[:n])
			lines = lines[n:]
		}
		held = ""
	}
	for _, sentence := range split(text) {
		if joined := strings.TrimSpace(held + " " + sentence); held == "" || len(wrap(joined, captionWide)) <= captionLines {
			held = joined
			continue
		}
		flush()
		held = sentence
	}
	flush()
	return out
}

// split cuts a text behind its sentences.
func split(text string) []string {
	var out []string
	var now []string
	for _, word := range strings.Fields(text) {
		now = append(now, word)
		if strings.ContainsAny(word[len(word)-1:], ".?!:") {
			out, now = append(out, strings.Join(now, " ")), nil
		}
	}
	if len(now) > 0 {
		out = append(out, strings.Join(now, " "))
	}
	return out
}

// wrap breaks a text at spaces into lines of at most width characters; a longer word is cut.
func wrap(text string, width int) []string {
	var out []string
	line := []rune{}
	for _, word := range strings.Fields(text) {
		w := []rune(word)
		if len(line) > 0 && len(line)+1+len(w) > width {
			out, line = append(out, string(line)), nil
		}
		if len(line) > 0 {
			line = append(line, ' ')
		}
		for line = append(line, w...); len(line) > width; line = line[width:] {
			out = append(out, string(line[:width]))
		}
	}
	if len(line) > 0 {
		out = append(out, string(line))
	}
	return out
}
