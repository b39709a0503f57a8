package cli

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"proofbell/internal/engine"
	"proofbell/internal/sheets"
	"proofbell/internal/survey"
	"proofbell/internal/tables"
	"proofbell/internal/words"
	"proofbell/rules"
	"proofbell/site"
)

type tableCmd struct {
	Site  string `arg:"" name:"SITE.yaml" help:"Site file; - for standard input."`
	Out   string `help:"Write tables: a spreadsheet with all of them, or one as CSV." placeholder:"FILE.xlsx|.csv" xor:"way" required:""`
	In    string `help:"Read tables, and print what they change." placeholder:"FILE.xlsx|.csv" xor:"way" required:""`
	Table string `default:"zones" enum:"zones,devices,rooms,heads" help:"Which table, for CSV: ${enum}."`
	Apply bool   `help:"With --in: write the changes into the site file; its comments stay."`
	Lang  string `default:"en" enum:"en,de" help:"Language of the headings: ${enum}."`
	JSON  bool   `help:"Print one JSON document."`
}

// Run writes tables of a site, or reads them and shows what they change; not good when a cell is wrong.
func (c *tableCmd) Run(io *streams) error {
	s, raw, err := readSite(c.Site, io.in)
	if err != nil {
		return err
	}
	lang := words.In(c.Lang)
	if c.Out != "" {
		return c.write(lang, s)
	}
	all, notes, err := c.read(lang)
	var read engine.TableRead
	var faults tables.Faults
	switch {
	case errors.As(err, &faults):
		read = engine.TableRead{Changes: []engine.CellChange{}, Faults: faults}
	case err != nil:
		return err
	default:
		if read, err = engine.ReadTables(lang, s, all); err != nil {
			return err
		}
	}
	read.Notes = append(notes, read.Notes...)
	if c.JSON {
		err = printJSON(io.out, read)
	} else {
		printTableRead(io.out, read)
		err = nil
	}
	switch {
	case err != nil:
		return err
	case len(read.Faults) > 0:
		return ErrNotGood
	case c.Apply && len(read.Patch) > 0:
		return applyPatch(c.Site, raw, read.Patch)
	}
	return nil
}

func (c *tableCmd) write(lang *words.Language, s *site.Site) error {
	all := tables.Of(lang, s)
	var out bytes.Buffer
	switch filepath.Ext(c.Out) {
	case ".xlsx":
		if err := sheets.WriteXLSX(&out, all...); err != nil {
			return err
		}
	case ".csv":
		i := slices.Index(tables.Names(), c.Table)
		if i < 0 {
			return fmt.Errorf("there is no table %q: choose one of %s", c.Table, strings.Join(tables.Names(), ", "))
		}
		if err := tables.WriteCSV(&out, all[i]); err != nil {
			return err
		}
	default:
		return fmt.Errorf("%s: tables are written as .xlsx or .csv", c.Out)
	}
	return writeFile(c.Out, out.Bytes())
}

func (c *tableCmd) read(lang *words.Language) (all []tables.Table, notes []string, err error) {
	raw, err := readFile(c.In, nil, tables.MaxFile)
	if err != nil {
		return nil, nil, err
	}
	switch filepath.Ext(c.In) {
	case ".xlsx":
		read, err := sheets.ReadXLSX(lang, raw)
		return read.Tables, read.Notes, err
	case ".csv":
		t, err := tables.ReadCSV(lang, strings.TrimSuffix(filepath.Base(c.In), ".csv"), raw)
		return []tables.Table{t}, nil, err
	}
	return nil, nil, fmt.Errorf("%s: tables are read from .xlsx or .csv", c.In)
}

func printTableRead(w io.Writer, read engine.TableRead) {
	for _, f := range read.Faults {
		fmt.Fprintln(w, f.Error())
	}
	for _, c := range read.Changes {
		if c.Field == "" {
			fmt.Fprintf(w, "%s: %s: new\n", c.Cell, c.Where)
			continue
		}
		fmt.Fprintf(w, "%s: %s, %s: %q becomes %q\n", c.Cell, c.Where, c.Field, c.Before, c.After)
	}
	for _, n := range read.Notes {
		fmt.Fprintf(w, "note: %s\n", n)
	}
	switch {
	case len(read.Faults) > 0:
		fmt.Fprintln(w, "Nothing is changed while a cell is wrong.")
	case len(read.Changes) == 0:
		fmt.Fprintln(w, "Nothing differs from the site file.")
	}
}

// applyPatch edits a YAML site file in place.
func applyPatch(path string, raw []byte, patch site.Patch) error {
	if path == "-" || filepath.Ext(path) == ".json" {
		return fmt.Errorf("--apply edits a YAML file in place: give one")
	}
	edited, err := site.EditYAML(raw, patch)
	if err != nil {
		return err
	}
	return writeFile(path, edited)
}

type questionsCmd struct {
	Site string `arg:"" name:"SITE.yaml" help:"Site file; - for standard input."`
	For  string `help:"One reader alone: here, owner, station, electrician or authority." placeholder:"WHO"`
	On   string `help:"Day to check for." placeholder:"DATE"`
	Lang string `default:"en" enum:"en,de" help:"Language: ${enum}."`
	JSON bool   `help:"Print one JSON document."`
}

// Run prints what nobody has answered yet, by who can answer it; not good while there is a question.
func (c *questionsCmd) Run(io *streams) error {
	on, err := day(c.On)
	if err != nil {
		return err
	}
	s, _, err := readSite(c.Site, io.in)
	if err != nil {
		return err
	}
	if err := hidden(c.Site, s); err != nil {
		return err
	}
	all, err := questions(words.In(c.Lang), s, on)
	if err != nil {
		return fmt.Errorf("%s: %w", c.Site, err)
	}
	if c.For != "" {
		all = slices.DeleteFunc(all, func(a survey.Asks) bool { return a.Of != c.For })
	}
	if c.JSON {
		if err := printJSON(io.out, all); err != nil {
			return err
		}
	} else {
		for i, a := range all {
			if i > 0 {
				fmt.Fprintln(io.out)
			}
			fmt.Fprint(io.out, a.Text)
		}
	}
	if len(all) > 0 {
		return ErrNotGood
	}
	return nil
}

func questions(lang *words.Language, s *site.Site, on time.Time) ([]survey.Asks, error) {
	// Without a panel chosen yet the rules that need one are not judged, which is a question of its own.
	profile, err := profileOf("", s)
	if err != nil && s.Panel.Profile != "" {
		return nil, err
	}
	findings, err := rules.CheckIn(lang.Tag(), s, profile, on)
	if err != nil {
		return nil, err
	}
	return survey.Questions(lang, s, findings), nil
}
