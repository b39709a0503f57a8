package cli

import (
	"fmt"
	"io"
	"path/filepath"
	"time"

	"proofbell/demo"
	"proofbell/internal/papers"
	"proofbell/internal/practice"
	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/site"
)

type practiceCmd struct {
	Make    practiceMakeCmd    `cmd:"" help:"Plant mistakes in a sound site, for a learner to find."`
	Mark    practiceMarkCmd    `cmd:"" help:"Mark what a learner named."`
	Sayings practiceSayingsCmd `cmd:"" help:"What a learner can say is wrong."`
}

// demoDay is the day on which the practice building is sound.
const demoDay = "2026-09-15"

// soundSite reads the site that mistakes are planted in: the practice building without a path.
func soundSite(path string, io *streams) (*site.Site, *panel.Profile, error) {
	var s *site.Site
	var err error
	if path == "" {
		s, err = site.DecodeYAML("larkwater.yaml", demo.Corrected)
	} else {
		s, _, err = readSite(path, io.in)
	}
	if err != nil {
		return nil, nil, err
	}
	p, err := profileOf(path, s)
	return s, p, err
}

type practiceMakeCmd struct {
	Seed  int    `required:"" help:"Number that decides which mistakes; the same number makes the same."`
	Level int    `default:"1" help:"1: three mistakes, each seen on one sheet; 2: six; 3: ten of every kind."`
	Site  string `help:"Sound site to plant in; left out: the practice building." placeholder:"SITE.yaml"`
	On    string `help:"Day for which it is judged; left out: today, for the practice building its own." placeholder:"DATE"`
	Out   string `required:"" help:"Site file to write, .yaml or .json." placeholder:"FILE"`
}

// Run writes the learner's file. The key is not in it.
func (c *practiceMakeCmd) Run(io *streams) error {
	if c.On == "" && c.Site == "" {
		c.On = demoDay
	}
	on, err := day(c.On)
	if err != nil {
		return err
	}
	s, p, err := soundSite(c.Site, io)
	if err != nil {
		return err
	}
	made, err := practice.Make(s, p, c.Seed, c.Level, on)
	if err != nil {
		return fmt.Errorf("%s: %w; proofbell check names them", nameOf(c.Site), err)
	}
	made.Site.Name = practice.Name(nil, made.Site)
	encode := site.EncodeYAML
	if filepath.Ext(c.Out) == ".json" {
		encode = site.EncodeJSON
	}
	raw, err := encode(made.Site)
	if err != nil {
		return err
	}
	if err := writeFile(c.Out, raw); err != nil {
		return err
	}
	fmt.Fprintf(io.out, "%s: practice, %d mistakes planted, judged for %s\n", c.Out, len(made.Key), on.Format(time.DateOnly))
	return nil
}

func nameOf(path string) string {
	if path == "" {
		return "the practice building"
	}
	return named(path)
}

type practiceMarkCmd struct {
	File    string `arg:"" name:"FILE" help:"The learner's site file."`
	Answers string `arg:"" name:"ANSWERS" help:"What the learner named, a fault a line: zone 14 bypass; - for standard input."`
	Site    string `help:"The sound site that it was made from; left out: the practice building." placeholder:"SITE.yaml"`
	JSON    bool   `help:"Print one JSON document." xor:"as"`
	PDF     string `name:"pdf" type:"path" help:"Write the marking as a document instead." placeholder:"FILE" xor:"as"`
	Paper   string `default:"A4" enum:"A4,Letter" help:"Size of the sheets: ${enum}."`
	Lang    string `default:"en" enum:"en,de" help:"Language: ${enum}."`
}

// Run prints what was found, missed and named wrongly; not good while something was missed or named wrongly.
func (c *practiceMarkCmd) Run(io *streams) error {
	given, file, err := readSite(c.File, io.in)
	if err != nil {
		return err
	}
	if given.Planted == nil {
		return fmt.Errorf("%s: no mistakes are planted in this site; proofbell practice make writes one", named(c.File))
	}
	raw, err := readFile(c.Answers, io.in, 1<<20)
	if err != nil {
		return err
	}
	answers, err := practice.ParseAnswers(given, string(raw))
	if err != nil {
		return fmt.Errorf("%s:%w", named(c.Answers), err)
	}
	s, p, err := soundSite(c.Site, io)
	if err != nil {
		return err
	}
	made, err := practice.Again(given.Planted, s, p)
	if err != nil {
		return fmt.Errorf("%s: %w; name it with --site", nameOf(c.Site), err)
	}
	lang := words.In(c.Lang)
	marks, err := practice.Mark(lang, made.Site, p, made.Key, answers, given.Planted.On.First())
	if err != nil {
		return err
	}
	switch {
	case c.PDF != "":
		on := given.Planted.On.First()
		one := sitePaper{kind: papers.PracticeResult, site: given, file: file, on: on, lang: c.Lang, marking: &papers.Marking{Marks: marks, Planted: practice.GivenOut(lang, given)}}
		if err = one.write(c.PDF, "pdf", c.Paper, papers.Keying{}); err == nil {
			fmt.Fprintln(io.out, c.PDF)
		}
	case c.JSON:
		err = printJSON(io.out, marks)
	default:
		printMarks(io.out, lang, marks)
	}
	if err == nil && len(marks.Missed)+len(marks.Wrong) > 0 {
		err = ErrNotGood
	}
	return err
}

func printMarks(w io.Writer, lang *words.Language, m practice.Marks) {
	fmt.Fprintln(w, lang.Say("PRACTICE: %d of %d planted mistakes found, %d missed, wrong alarms: %d.", len(m.Found), m.Planted, len(m.Missed), len(m.Wrong)))
	list := func(title string, items []practice.Marked) {
		for _, i := range items {
			fmt.Fprintf(w, "%-12s %s\n", title, i.Where)
			for _, line := range []string{i.What, i.Say, i.Do} {
				if line != "" {
					fmt.Fprintf(w, "             %s\n", line)
				}
			}
		}
	}
	list(lang.Say("found"), m.Found)
	list(lang.Say("missed"), m.Missed)
	list(lang.Say("wrong alarm"), m.Wrong)
	list(lang.Say("also true"), m.True)
	fmt.Fprintln(w, papers.PracticeNote(lang))
}

type practiceSayingsCmd struct {
	Lang string `default:"en" enum:"en,de" help:"Language: ${enum}."`
}

// Run lists what can be said to be wrong.
func (c *practiceSayingsCmd) Run(io *streams) error {
	for _, s := range practice.Sayings {
		fmt.Fprintf(io.out, "%-10s %s\n", s.ID, words.In(c.Lang).Word(s.Say))
	}
	return nil
}

// hidden refuses to say what is wrong in a practice site: that is for the learner to find.
func hidden(path string, s *site.Site) error {
	if s.Planted == nil {
		return nil
	}
	return fmt.Errorf("%s: this is practice, and what is wrong in it is for the learner to find; proofbell practice mark says it afterwards", named(path))
}
