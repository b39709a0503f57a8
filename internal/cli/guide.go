package cli

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"proofbell/internal/app"
	"proofbell/internal/engine"
	"proofbell/internal/guide"
	"proofbell/internal/keypad"
	"proofbell/internal/papers"
	"proofbell/internal/records"
	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/site"
)

type guideCmd struct {
	Site   string   `arg:"" name:"SITE.yaml" help:"Site file; - for standard input."`
	Out    string   `required:"" type:"path" help:"Folder to write to." placeholder:"DIR"`
	Reader string   `default:"junior" enum:"junior,customer" help:"For whom: ${enum}."`
	Zones  []string `help:"Zones to show: 09,11 or all; left out: one of each kind." placeholder:"ZONE"`
	Paper  string   `default:"A4" enum:"A4,Letter" help:"Size of the sheets: ${enum}."`
	On     string   `help:"Day to check for." placeholder:"DATE"`
	Lang   string   `default:"en" enum:"en,de" help:"Language: ${enum}."`
	ownPanel
}

// guideKinds are the documents by reader.
var guideKinds = map[guide.Reader]string{guide.Junior: "keypad-lessons", guide.Customer: "keypad-reasons"}

// Run writes a keypad guide as PDF, as a script to speak and as captions.
func (c *guideCmd) Run(io *streams) error {
	on, err := day(c.On)
	if err != nil {
		return err
	}
	s, file, err := readSite(c.Site, io.in)
	if err != nil {
		return err
	}
	p, err := c.of(c.Site, s, io)
	if err != nil {
		return err
	}
	lang := words.In(c.Lang)
	sheet, findings, err := keyingSheet(lang, c.Site, s, p, nil, on)
	if err != nil {
		return err
	}
	zones, err := chosen(p, sheet, c.Zones)
	if err != nil {
		return err
	}
	kind := guideKinds[guide.Reader(c.Reader)]
	paper, err := sitePaper{kind: kind, site: s, file: file, profile: p, findings: findings, on: on, lang: c.Lang}.
		paper(papers.Keying{Sheet: sheet, Whole: func() keypad.Sheet { return sheet }, Lost: engine.Lost(lang, p), Only: zones})
	if err != nil {
		return err
	}
	if err := os.MkdirAll(c.Out, 0o755); err != nil {
		return err
	}
	for _, format := range []string{"pdf", "txt", "vtt"} {
		raw, err := records.File(paper, format, records.Options{Sheet: c.Paper})
		if err != nil {
			return err
		}
		path := filepath.Join(c.Out, app.Slug(s.Name)+"-"+kind+"."+format)
		if err := writeFile(path, raw); err != nil {
			return err
		}
		fmt.Fprintln(io.out, path)
	}
	return nil
}

// chosen reads --zones: numbers as at the panel or in the site, "all", or nothing for one of each kind.
func chosen(p *panel.Profile, sheet keypad.Sheet, asked []string) ([]site.ZoneID, error) {
	var all, out []site.ZoneID
	for _, z := range sheet.Zones {
		all = append(all, z.Zone)
	}
	if len(asked) == 1 && asked[0] == "all" {
		return all, nil
	}
	for _, text := range asked {
		id := site.ZoneID(strings.TrimSpace(text))
		if n, ok := p.ZoneNumber(id); ok {
			id = p.ZoneID(n)
		}
		if !slices.Contains(all, id) {
			return nil, fmt.Errorf("--zones %s: the schedule has no such zone; it has %s", text, words.List(nil, all))
		}
		out = append(out, id)
	}
	return out, nil
}
