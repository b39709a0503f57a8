package cli

import (
	"cmp"
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"proofbell/geom"
	"proofbell/internal/draught"
	"proofbell/internal/drawing"
	"proofbell/internal/words"
	"proofbell/site"
)

type planCmd struct {
	Draw   planDrawCmd   `cmd:"" help:"The plan of a storey as a drawing."`
	Import planImportCmd `cmd:"" help:"Rooms and walls out of a drawing made elsewhere."`
}

type planDrawCmd struct {
	Site   string `arg:"" name:"SITE.yaml" help:"Site file; - for standard input."`
	Storey string `help:"Id of the storey; the lowest without it." placeholder:"ID"`
	Out    string `help:"Where to write the drawing (SVG); standard output without it." placeholder:"FILE"`
	Sizes  bool   `help:"With the lengths of the sides of rooms."`
	Below  bool   `help:"With the storey below as a ghost."`
	pdfFlags
	Lang string `default:"en" enum:"en,de" help:"Language: ${enum}."`
}

// Run draws a storey to a scale of 1:50.
func (c *planDrawCmd) Run(io *streams) error {
	if err := c.check(); err != nil {
		return err
	}
	s, file, err := readSite(c.Site, io.in)
	if err != nil {
		return err
	}
	if c.PDF != "" {
		if c.Storey != "" || c.Out != "" || c.Sizes || c.Below {
			return errors.New("--pdf holds every storey to one scale: leave out --storey, --out, --sizes and --below")
		}
		on, err := day("")
		if err != nil {
			return err
		}
		return c.ofSite("floor-plans", s, file, on, c.Lang, "")
	}
	id, err := storeyOf(c.Site, s, c.Storey)
	if err != nil {
		return err
	}
	lang := words.In(c.Lang)
	sheet := drawing.Sheet{Lang: lang, Imperial: s.Premises.Units == "imperial"}
	if c.Sizes {
		sheet.Sizes = drawing.Sizes(lang, s, id, nil)
	}
	if below, ok := drawing.Below(s, id); ok && c.Below {
		p := drawing.StoreyIn(lang, s, below)
		sheet.Below = &p
	}
	picture := drawing.StoreyIn(lang, s, id).SVG(sheet)
	if c.Out != "" {
		return writeFile(c.Out, picture)
	}
	_, err = io.out.Write(picture)
	return err
}

// storeyOf finds a storey by its id; without one the lowest.
func storeyOf(path string, s *site.Site, id string) (site.StoreyID, error) {
	if _, ok := s.Storeys[site.StoreyID(id)]; ok {
		return site.StoreyID(id), nil
	}
	plans := drawing.Storeys(s)
	var ids []string
	for _, p := range plans {
		ids = append(ids, p.Storey)
	}
	switch {
	case len(ids) == 0:
		return "", fmt.Errorf("%s: the site has no storey; add one under storeys", path)
	case id == "":
		return site.StoreyID(ids[0]), nil
	}
	return "", fmt.Errorf("%s: there is no storey %q; the site has %s", path, id, strings.Join(ids, ", "))
}

type planImportCmd struct {
	File   string  `arg:"" name:"FILE" help:"Drawing, .svg or .dxf in its text form."`
	Unit   string  `help:"What a unit of the drawing is, where the file does not say: ${enum}." enum:"m,cm,mm,ft,in," default:"" placeholder:"UNIT"`
	Into   string  `help:"Site file into which the rooms and walls are written; its comments stay." placeholder:"SITE.yaml"`
	Storey string  `help:"Id of the storey, with --into; the lowest without it." placeholder:"ID"`
	X      float64 `help:"With --into: where the lower left corner of the drawing lies on the plan, metres."`
	Y      float64 `help:"With --into: the same, up the plan."`
	JSON   bool    `help:"Print one JSON document."`
	Lang   string  `default:"en" enum:"en,de" help:"Language: ${enum}."`
}

// Run prints what was found in a drawing, or writes it into a site; not good when a part of the file could not be read.
func (c *planImportCmd) Run(io *streams) error {
	raw, err := readFile(c.File, io.in, 16<<20)
	if err != nil {
		return err
	}
	lang := words.In(c.Lang)
	o := draught.Import(lang, filepath.Base(c.File), raw, c.Unit)
	if c.JSON {
		if err := printJSON(io.out, o); err != nil {
			return err
		}
	} else {
		c.print(io, lang, o)
	}
	if len(o.Rooms)+len(o.Walls) == 0 {
		return fmt.Errorf("%s: nothing of it can be taken", c.File)
	}
	if c.Into != "" {
		if err := c.into(io, lang, o); err != nil {
			return err
		}
	}
	if len(o.Faults) > 0 {
		return ErrNotGood
	}
	return nil
}

func (c *planImportCmd) print(io *streams, lang *words.Language, o draught.Outlines) {
	unit := lang.Say("a unit is taken for %s, which the file does not say: --unit corrects it", o.Unit)
	if o.Told {
		unit = lang.Say("a unit is %s", o.Unit)
	}
	if o.Unit == "" {
		unit = lang.Say("a unit is a part of the sheet")
	}
	fmt.Fprintln(io.out, lang.Say("%d rooms, %d walls, %s by %s m; %s", len(o.Rooms), len(o.Walls), lang.Number(o.Width, 2), lang.Number(o.Height, 2), unit))
	for _, r := range o.Rooms {
		fmt.Fprintf(io.out, "  %-30s %10s m²  %s\n", r.Name, lang.Number(r.Area, 2), r.Layer)
	}
	for _, f := range o.Faults {
		at := c.File
		if f.Line > 0 {
			at = fmt.Sprintf("%s:%d", c.File, f.Line)
		}
		fmt.Fprintf(io.err, "%s: %s %s\n", at, f.Say, f.Try)
	}
}

func (c *planImportCmd) into(io *streams, lang *words.Language, o draught.Outlines) error {
	s, raw, err := readSite(c.Into, io.in)
	if err != nil {
		return err
	}
	id, err := storeyOf(c.Into, s, c.Storey)
	if err != nil {
		return err
	}
	op := draught.Operation{Op: "take", Storey: id, Take: &o}
	op.At = &geom.Point{X: c.X, Y: c.Y}
	acted := draught.Do(lang, s, op)
	if acted.Refused != nil {
		return fmt.Errorf("%s: %s %s", c.Into, acted.Refused.Say, acted.Refused.Try)
	}
	fmt.Fprintln(io.err, cmp.Or(acted.Say, c.Into))
	for _, g := range acted.Goes {
		fmt.Fprintln(io.err, g)
	}
	return applyPatch(c.Into, raw, acted.Patch)
}
