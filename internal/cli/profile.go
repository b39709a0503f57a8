package cli

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"slices"
	"strings"

	"proofbell/internal/drawing"
	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/site"
)

// ownPanel is the flag by which a command takes a panel profile from a file instead of one that comes with the product.
type ownPanel struct {
	Profile string `help:"Panel profile to use (YAML or JSON), for the panel that the site names." placeholder:"FILE"`
}

// of loads the profile of a site.
func (o ownPanel) of(path string, s *site.Site, io *streams) (*panel.Profile, error) {
	if o.Profile == "" {
		return profileOf(path, s)
	}
	raw, err := readFile(o.Profile, io.in, panel.MaxFile)
	if err != nil {
		return nil, err
	}
	p, err := panel.Decode(named(o.Profile), raw)
	if err != nil {
		return nil, err
	}
	if s.Panel.Profile != "" && s.Panel.Profile != p.Name {
		return nil, fmt.Errorf("%s: the site has the panel %q and the profile is of %q: give the profile of that panel, or correct panel.profile of the site", o.Profile, s.Panel.Profile, p.Name)
	}
	return p, nil
}

type profileCmd struct {
	Check  profileCheckCmd  `cmd:"" help:"Whether a profile can program every zone it claims to hold, and what it covers."`
	Draw   profileDrawCmd   `cmd:"" help:"The dialogue as a drawing."`
	Schema profileSchemaCmd `cmd:"" help:"The JSON Schema of the profile's form."`
}

type profileCheckCmd struct {
	File string `arg:"" name:"FILE" help:"Panel profile, YAML or JSON; - for standard input; or the name of a built-in one."`
	JSON bool   `help:"Print one JSON document."`
	Lang string `default:"en" enum:"en,de" help:"Language: ${enum}."`
}

// fault is one line of the answer of profile check --json.
type fault struct {
	Line   int    `json:"line,omitempty"`
	Column int    `json:"column,omitempty"`
	Say    string `json:"say"`
}

// Run prints what is wrong, else the coverage report; not good when anything is wrong.
func (c *profileCheckCmd) Run(io *streams) error {
	lang := words.In(c.Lang)
	p, err := loadProfile(c.File, io)
	var wrong panel.Mistakes
	if err != nil && !errors.As(err, &wrong) {
		return err
	}
	if c.JSON {
		out := map[string]any{"good": len(wrong) == 0}
		if faults := []fault{}; len(wrong) > 0 {
			for _, m := range wrong {
				faults = append(faults, fault{m.Line, m.Column, m.Say.In(lang)})
			}
			out["faults"] = faults
		} else {
			out["report"] = p.Report(lang)
		}
		err = printJSON(io.out, out)
	} else if err = nil; len(wrong) > 0 {
		for _, m := range wrong {
			fmt.Fprintln(io.out, m.Said().In(lang))
		}
	} else {
		printCoverage(io.out, lang, p.Report(lang))
	}
	if err == nil && len(wrong) > 0 {
		err = ErrNotGood
	}
	return err
}

// loadProfile reads a profile from a file, or takes a built-in one where no file has that name.
func loadProfile(name string, io *streams) (*panel.Profile, error) {
	if _, err := os.Stat(name); err != nil && slices.Contains(panel.Names(), name) {
		return panel.Builtin(name)
	}
	raw, err := readFile(name, io.in, panel.MaxFile)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%s: there is no such file, and no built-in profile of that name; built in are %s", name, strings.Join(panel.Names(), ", "))
	}
	if err != nil {
		return nil, err
	}
	return panel.Decode(named(name), raw)
}

func printCoverage(w io.Writer, lang *words.Language, r panel.Report) {
	fmt.Fprintln(w, lang.Say("%s %s asks %s: %d prompts, zones %d to %d, %d spoken words", r.Title, r.Version, r.Asks, r.Nodes, r.Zones.First, r.Zones.Last, r.Words))
	fmt.Fprintf(w, "\n%s\n", lang.Say("Fields of a zone"))
	for _, f := range r.Fields {
		fmt.Fprintf(w, "  %-30s %s\n", f.Say, f.How)
		if len(f.At) > 0 {
			fmt.Fprintf(w, "  %-30s %s\n", "", lang.Say("at %s", strings.Join(f.At, ", ")))
		}
		if len(f.Answers) > 0 {
			fmt.Fprintf(w, "  %-30s %s\n", "", strings.Join(f.Answers, "  "))
		}
	}
	fmt.Fprintf(w, "\n%s\n", lang.Say("Kinds of zone"))
	for _, k := range r.Kinds {
		fmt.Fprintf(w, "  %-30s %-16s %s\n", k.Say, strings.TrimSpace(k.Answer+" "+k.Code), lang.Say("%d prompts; restore: %s; in the panel's test mode: %s", k.Prompts, k.Restore, k.Test))
	}
	for _, part := range []struct {
		title string
		lines []string
	}{
		{lang.Say("What a site may ask for and this panel can not be told"), r.CanNot},
		{lang.Say("What the panel would take without a word; the rules stop it"), r.Unsafe},
		{lang.Say("What could be added to the profile"), r.Notes},
	} {
		if len(part.lines) > 0 {
			fmt.Fprintf(w, "\n%s\n  %s\n", part.title, strings.Join(part.lines, "\n  "))
		}
	}
	fmt.Fprintf(w, "\n%s\n", lang.Say("No fault: every field of every zone can be reached and kept. Whether the panel in the wall asks like this, only its keypad shows."))
}

type profileDrawCmd struct {
	File string `arg:"" name:"FILE" help:"Panel profile, YAML or JSON; - for standard input; or the name of a built-in one."`
	Out  string `help:"Where to write the drawing (SVG); standard output without it." placeholder:"FILE"`
	Lang string `default:"en" enum:"en,de" help:"Language: ${enum}."`
}

// Run draws the dialogue of a profile without faults.
func (c *profileDrawCmd) Run(io *streams) error {
	p, err := loadProfile(c.File, io)
	if err != nil {
		return err
	}
	picture := drawing.DialogueOf(words.In(c.Lang), p).SVG()
	if c.Out != "" {
		return writeFile(c.Out, picture)
	}
	_, err = io.out.Write(picture)
	return err
}

type profileSchemaCmd struct{}

// Run prints the schema.
func (c *profileSchemaCmd) Run(io *streams) error {
	_, err := io.out.Write(panel.Schema())
	return err
}
