package worked

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"proofbell/internal/words"
)

// Explain writes the sheet for a terminal.
func (s Sheet) Explain(lang *words.Language) string {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	line("%s\n%s", s.Title, strings.Repeat("=", utf8.RuneCountInString(s.Title)))
	line("%s", s.Result)
	if s.Label != "" {
		line("%s", s.Label)
	}
	if len(s.Inputs) > 0 {
		line("\n%s", lang.Say("Inputs"))
		name, sign, say := 0, 0, 0
		for _, in := range s.Inputs {
			name, sign, say = max(name, utf8.RuneCountInString(in.Name)), max(sign, utf8.RuneCountInString(in.Sign)), max(say, utf8.RuneCountInString(in.say(lang)))
		}
		for _, in := range s.Inputs {
			line("  %s  %s  %s  %s", pad(in.Name, name), pad(in.Sign, sign), pad(in.say(lang), say), in.Where())
		}
	}
	if len(s.Steps) > 0 {
		line("\n%s", lang.Say("Steps"))
	}
	for i, st := range s.Steps {
		line("  %d. %s  [%s]", i+1, st.Name, st.Formula)
		line("       %s", st.Says)
		if put := st.Figures(); put != "" {
			line("       %s", put)
		}
		line("       = %s", st.Say)
		if st.Source != "" {
			line("     %s", st.From(lang))
		}
	}
	for _, part := range s.Lists(lang) {
		line("\n%s", part.Title)
		for _, text := range part.Lines {
			line("  - %s", text)
		}
	}
	return b.String()
}

func (in Input) say(lang *words.Language) string {
	if in.Say == "" {
		return lang.Say("not given")
	}
	return in.Say
}

// Where is who says so, with the member of the site file.
func (in Input) Where() string {
	if in.At == "" || in.From == "" {
		return in.From + in.At
	}
	return in.From + " (" + in.At + ")"
}

// Figures are the figures put in as a line under the formula: what it equals, or the letters with their values.
func (st Step) Figures() string {
	if _, after, _ := strings.Cut(st.Put, " "); st.Put == "" || strings.HasPrefix(after, "= ") {
		return st.Put
	}
	return "= " + st.Put
}

// From is the source of a step with the confidence in it.
func (st Step) From(lang *words.Language) string {
	if st.Confidence == "" {
		return lang.Say("Source: %s", st.Source)
	}
	return lang.Say("Source: %s (%s)", st.Source, lang.Word(st.Confidence))
}

// List is one list of a sheet under its heading.
type List struct {
	Title string
	Lines []string
}

// Lists are what stands under the sum: what is missing, what was assumed, what to be careful of. Empty ones are left out.
func (s Sheet) Lists(lang *words.Language) []List {
	var out []List
	for _, l := range []List{{lang.Say("Not determined"), s.Missing}, {lang.Say("Assumed"), s.Assumed}, {lang.Say("Be careful"), s.Cautions}} {
		if len(l.Lines) > 0 {
			out = append(out, l)
		}
	}
	return out
}

func pad(s string, width int) string { return s + strings.Repeat(" ", width-utf8.RuneCountInString(s)) }
