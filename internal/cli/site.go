package cli

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"proofbell/internal/engine"
	"proofbell/internal/keypad"
	"proofbell/internal/papers"
	"proofbell/internal/schedule"
	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/rules"
	"proofbell/site"
)

const maxSiteFile = 4 << 20

// readSite reads a site file, YAML or JSON by its name; "-" is YAML from standard input.
func readSite(path string, in io.Reader) (*site.Site, []byte, error) {
	raw, err := readFile(path, in, maxSiteFile)
	if err != nil {
		return nil, nil, err
	}
	var s *site.Site
	if filepath.Ext(path) == ".json" {
		s, err = site.DecodeJSON(path, raw)
	} else {
		s, err = site.DecodeYAML(path, raw)
	}
	return s, raw, err
}

// readFile reads a file, or standard input for "-", up to a limit.
func readFile(path string, in io.Reader, limit int64) (raw []byte, err error) {
	r := in
	if path != "-" {
		f, err := os.Open(path)
		if err != nil {
			return nil, fmt.Errorf("%w: check the name", err)
		}
		defer func() { _ = f.Close() }() // only read
		r = f
	}
	raw, err = io.ReadAll(io.LimitReader(r, limit+1))
	if err == nil && int64(len(raw)) > limit {
		err = fmt.Errorf("%s: more than %d MB, this can not be the right file", path, limit>>20)
	}
	return raw, err
}

// named is how a message names an input.
func named(path string) string {
	if path == "-" {
		return "standard input"
	}
	return path
}

// writeFile replaces a file whole: a reader sees the old one or the new one.
func writeFile(path string, raw []byte) error {
	mode := os.FileMode(0o644)
	if info, err := os.Stat(path); err == nil {
		mode = info.Mode().Perm()
	}
	return replaceFile(path, raw, mode)
}

func replaceFile(path string, raw []byte, mode os.FileMode) (err error) {
	f, err := os.CreateTemp(filepath.Dir(path), ".proofbell-*")
	if errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%s: there is no folder %s; make it, or write elsewhere", path, filepath.Dir(path))
	}
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.Remove(f.Name()))
		}
	}()
	if _, err = f.Write(raw); err != nil {
		return errors.Join(err, f.Close())
	}
	if err = errors.Join(f.Chmod(mode), f.Sync(), f.Close()); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}

func printJSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(v)
}

// printLine prints JSON on one line.
func printLine(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	return enc.Encode(v)
}

// profileOf loads the panel profile that a site names.
func profileOf(path string, s *site.Site) (*panel.Profile, error) {
	if s.Panel.Profile == "" {
		return nil, fmt.Errorf("%s: the site names no panel: set panel.profile to one of %s", path, strings.Join(panel.Names(), ", "))
	}
	p, err := panel.Builtin(s.Panel.Profile)
	if err != nil {
		return nil, fmt.Errorf("%s: panel.profile: %w", path, err)
	}
	return p, nil
}

// day reads --on; without it, today.
func day(on string) (time.Time, error) {
	if on == "" {
		return time.Now(), nil
	}
	t, err := time.Parse(time.DateOnly, on)
	if err != nil {
		return t, fmt.Errorf("--on %q is not a day: write it as 2026-09-15", on)
	}
	return t, nil
}

type checkCmd struct {
	Site string `arg:"" name:"SITE.yaml" help:"Site file; - for standard input."`
	On   string `help:"Day to check for." placeholder:"DATE"`
	JSON bool   `help:"Print one JSON document."`
	Lang string `default:"en" enum:"en,de" help:"Language: ${enum}."`
	ownPanel
}

// Run prints the findings; not good while a stop or fix stands.
func (c *checkCmd) Run(io *streams) error {
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
	profile, err := panel.Builtin(s.Panel.Profile)
	if err != nil {
		profile = nil // what depends on the panel is then not judged, and says so
	}
	if c.Profile != "" {
		if profile, err = c.of(c.Site, s, io); err != nil {
			return err
		}
	}
	findings, err := rules.CheckIn(c.Lang, s, profile, on)
	if err != nil {
		return fmt.Errorf("%s: %w", c.Site, err)
	}
	counts := rules.Count(findings)
	if c.JSON {
		err = printJSON(io.out, map[string]any{"site": s.Name, "on": on.Format(time.DateOnly), "ruleSet": s.RuleSet, "counts": counts, "findings": findings})
	} else {
		printFindings(io.out, words.In(c.Lang), findings, counts)
	}
	if err == nil && counts.Stop+counts.Fix > 0 {
		err = ErrNotGood
	}
	return err
}

// How findings are called at the terminal.
var (
	severities = map[rules.Severity]string{rules.Stop: words.Mark("STOP"), rules.Fix: words.Mark("FIX"), rules.Advise: words.Mark("ADVISE")}
	menders    = map[rules.Who]string{
		rules.Desk: words.Mark("desk"), rules.OnSite: words.Mark("site"), rules.Electrician: words.Mark("electrician"), rules.Authority: words.Mark("authority"),
	}
)

func printFindings(w io.Writer, lang *words.Language, findings []rules.Finding, n rules.Counts) {
	for _, f := range findings {
		if f.NotJudged {
			continue
		}
		fmt.Fprintf(w, "%-7s %s\n        %s\n        %s (%s; %s)\n", lang.Word(severities[f.Severity]), f.Where, f.Say, f.Do, lang.Word(menders[f.Who]), f.Rule)
	}
	for _, f := range findings {
		if f.NotJudged {
			fmt.Fprintln(w, lang.Say("not judged  %s: lacks %s (%s)", f.Where, strings.Join(f.Missing, ", "), f.Rule))
		}
	}
	fmt.Fprintln(w, lang.Say("%d to stop for, %d to fix, %d advised, %d could not be judged. A check against one rule set: local code and the authority decide.", n.Stop, n.Fix, n.Advise, n.NotJudged))
}

type scheduleCmd struct {
	Site  string `arg:"" name:"SITE.yaml" help:"Site file; - for standard input."`
	Apply bool   `help:"Write the zones into the site file; its comments stay."`
	JSON  bool   `help:"Print one JSON document."`
	Lang  string `default:"en" enum:"en,de" help:"Language: ${enum}."`
	ownPanel
}

// Run proposes zones; not good when devices are left over.
func (c *scheduleCmd) Run(io *streams) error {
	s, raw, err := readSite(c.Site, io.in)
	if err != nil {
		return err
	}
	p, err := c.of(c.Site, s, io)
	if err != nil {
		return err
	}
	plan := schedule.AllocateIn(words.In(c.Lang), s, p)
	switch {
	case c.JSON:
		err = printJSON(io.out, plan)
	default:
		printAllocation(io.out, words.In(c.Lang), plan)
	}
	if err == nil && c.Apply && len(plan.Choices) > 0 {
		err = applyPatch(c.Site, raw, plan.Patch)
	}
	if err == nil && len(plan.Left) > 0 {
		err = ErrNotGood
	}
	return err
}

func printAllocation(w io.Writer, lang *words.Language, plan schedule.Plan) {
	for _, c := range plan.Choices {
		fmt.Fprintf(w, "%s  %s\n", lang.Say("zone %s", c.Zone), c.Value.Label)
		for _, why := range c.Why {
			fmt.Fprintf(w, "    %s: %s\n", why.Member, why.Say)
		}
		for _, remark := range c.Remarks {
			fmt.Fprintf(w, "    %s\n", lang.Say("look: %s", remark))
		}
	}
	for _, l := range plan.Left {
		fmt.Fprintln(w, lang.Say("left over: %s terminal %s: %s; %s", l.Device, l.Terminal, l.Say, l.Do))
	}
	if len(plan.Choices)+len(plan.Left) == 0 {
		fmt.Fprintln(w, lang.Say("Every device has its zone."))
	}
}

type keyingCmd struct {
	Site    string `arg:"" name:"SITE.yaml" help:"Site file; - for standard input."`
	AsFound string `help:"Zone table that the panel holds now (JSON, as rehearse prints it)." placeholder:"FILE"`
	On      string `help:"Day to check for." placeholder:"DATE"`
	JSON    bool   `help:"Print the key list as one JSON document."`
	PDF     string `type:"path" help:"Write the sheet for the keypad, with boxes to tick, to this file." placeholder:"FILE"`
	Paper   string `default:"" enum:",A4,Letter" help:"Size of the sheets of --pdf: A4, which it is without this, or Letter."`
	Lang    string `default:"en" enum:"en,de" help:"Language: ${enum}."`
	ownPanel
}

// Run prints the keying sheet; not good when a stop keeps a zone from being keyed.
func (c *keyingCmd) Run(io *streams) error {
	if c.Paper != "" && c.PDF == "" {
		return errors.New("--paper is the size of the sheets of --pdf: give --pdf FILE as well, or leave it out")
	}
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
	var found keypad.ZoneTable
	if c.AsFound != "" {
		raw, err := readFile(c.AsFound, io.in, maxSiteFile)
		if err != nil {
			return err
		}
		if found, err = keypad.ParseTable(p, raw); err != nil {
			return fmt.Errorf("%s: %w", c.AsFound, err)
		}
	}
	sheet, findings, err := keyingSheet(words.In(c.Lang), c.Site, s, p, found, on)
	if err != nil {
		return err
	}
	switch {
	case c.PDF != "":
		err = sitePaper{kind: "keying-sheet", site: s, file: file, profile: p, findings: findings, on: on, lang: c.Lang}.write(c.PDF, "pdf", c.Paper, papers.Keying{Sheet: sheet, Lost: engine.Lost(words.In(c.Lang), p)})
	case c.JSON:
		if s.Planted != nil {
			sheet.Cautions = slices.Insert(sheet.Cautions, 0, papers.NeverKey(words.In(c.Lang), s)+".")
		}
		err = printJSON(io.out, sheet)
	default:
		if s.Planted != nil {
			fmt.Fprintf(io.out, "%s.\n", papers.NeverKey(words.In(c.Lang), s))
		}
		printSheet(io.out, words.In(c.Lang), sheet)
		printSettings(io.out, words.In(c.Lang), s)
	}
	for _, z := range sheet.Zones {
		if len(z.Stops) > 0 && err == nil {
			err = ErrNotGood
		}
	}
	return err
}

// judged gives the findings that whoever keys a site is told: none of a practice site with planted mistakes, they are for
// the learner to find.
func judged(lang *words.Language, path string, s *site.Site, p *panel.Profile, on time.Time) ([]rules.Finding, error) {
	findings, err := rules.CheckIn(lang.Tag(), s, p, on)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	if s.Planted != nil {
		return nil, nil
	}
	return findings, nil
}

// keyingSheet lays out the keys of a site as it is judged on a day.
func keyingSheet(lang *words.Language, path string, s *site.Site, p *panel.Profile, found keypad.ZoneTable, on time.Time) (keypad.Sheet, []rules.Finding, error) {
	findings, err := judged(lang, path, s, p, on)
	if err != nil {
		return keypad.Sheet{}, nil, err
	}
	sheet := keypad.Compile(s, p, found, keypad.Options{Lang: lang, Stops: engine.StopsOf(findings), ReadBack: true})
	if s.Planted != nil {
		sheet.Problems = nil
	}
	return sheet, findings, nil
}

func printSheet(w io.Writer, lang *words.Language, sheet keypad.Sheet) {
	fmt.Fprintln(w, lang.Say("Keying sheet, panel %s %s: %d keys, about %s minutes (%s)", sheet.Panel, sheet.Version, sheet.Count, lang.Number(sheet.Minutes, -1), sheet.Estimate))
	fmt.Fprintln(w, lang.Say("The plain way, every answer of every zone keyed: %d keys, about %s minutes.", sheet.Plain.Count, lang.Number(sheet.Plain.Minutes, -1)))
	for _, caution := range sheet.Cautions {
		fmt.Fprintf(w, "! %s\n", caution)
	}
	for _, z := range sheet.Zones {
		fmt.Fprintf(w, "\n%s  %s\n", lang.Say("Zone %s", z.Zone), z.Label)
		for _, stop := range z.Stops {
			fmt.Fprintf(w, "  %s\n", lang.Say("STOP  %s Not keyed.", stop))
		}
		printCards(w, lang, z.Cards)
		if len(z.Check) > 0 {
			fmt.Fprintf(w, "  %s\n", lang.Say("Read it back: nothing is changed"))
			printCards(w, lang, z.Check)
		}
	}
	if len(sheet.Leave) > 0 {
		fmt.Fprintf(w, "\n%s\n", lang.Say("Leave programming"))
		printCards(w, lang, sheet.Leave)
	}
	for _, p := range sheet.Problems {
		fmt.Fprintf(w, "! %s: %s\n", lang.Say("zone %s", p.Zone), p.Say)
	}
}

func printSettings(w io.Writer, lang *words.Language, s *site.Site) {
	set := papers.Settings(lang, s)
	if len(set) == 0 {
		return
	}
	fmt.Fprintf(w, "\n%s. %s\n", lang.Say("For the whole panel: on no card"), lang.Say("The cards key zones. These are set, or seen to be set, as the panel's instructions say."))
	for _, one := range set {
		fmt.Fprintf(w, "     %s: %s\n", one.Name, one.Value)
	}
}

func printCards(w io.Writer, lang *words.Language, cards []keypad.Card) {
	for _, card := range cards {
		means := card.Means
		if card.Sees != "" {
			means = strings.TrimSpace(means + " " + lang.Say("(%s stands there)", card.Sees))
		}
		fmt.Fprintf(w, "  %2d/%d  %-18s %-24s %s\n", card.N, card.Of, card.Shows, keypad.Pressed(lang, card.Press), means)
	}
}
