package cli

import (
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"

	"proofbell/internal/book"
	"proofbell/internal/engine"
	"proofbell/internal/placing"
	"proofbell/internal/words"
	"proofbell/site"
)

type placingCmd struct {
	Site  string   `arg:"" name:"SITE.yaml" help:"Site file; - for standard input."`
	With  string   `default:"heads" enum:"heads,detectors" help:"What is added: alarms joined to the group (heads), or smoke detectors of the panel with a sounder (detectors)."`
	Apply bool     `help:"Write them into the site file; its comments stay."`
	Only  []string `help:"With --apply: only these ids, as they were proposed." placeholder:"ID"`
	On    string   `help:"Day to check for." placeholder:"DATE"`
	pdfFlags
	JSON bool   `help:"Print one JSON document."`
	Lang string `default:"en" enum:"en,de" help:"Language: ${enum}."`
}

// Run proposes alarms; not good when something is wanting that nothing would meet.
func (c *placingCmd) Run(io *streams) error {
	if err := c.check(); err != nil {
		return err
	}
	on, err := day(c.On)
	if err != nil {
		return err
	}
	if len(c.Only) > 0 && !c.Apply {
		return fmt.Errorf("--only chooses what --apply writes: give --apply as well")
	}
	s, raw, err := readSite(c.Site, io.in)
	if err != nil {
		return err
	}
	if err := hidden(c.Site, s); err != nil {
		return err
	}
	state := book.New("")
	state.Site = s
	v, err := engine.NewDesk(state, 0).In(words.In(c.Lang)).Placing(on, placing.With(c.With))
	if err != nil {
		return fmt.Errorf("%s: %w", c.Site, err)
	}
	if err := c.ofSite("alarms-wanted", s, raw, on, c.Lang, placing.With(c.With)); err != nil {
		return err
	}
	if c.JSON {
		err = printJSON(io.out, v)
	} else {
		printPlacing(io.out, words.In(c.Lang), v)
	}
	patch := v.Patch
	if len(c.Only) > 0 {
		if patch, err = only(c.Only, v); err != nil {
			return err
		}
	}
	if err == nil && c.Apply && len(patch) > 0 {
		err = applyPatch(c.Site, raw, site.Patch(patch))
	}
	if err == nil && len(v.Unmet) > 0 {
		err = ErrNotGood
	}
	return err
}

// only is the patch of the chosen proposals.
func only(ids []string, v engine.PlacingView) (json.RawMessage, error) {
	var known []string
	all := map[string]map[string]json.RawMessage{}
	for _, a := range v.Adds {
		id := a.Pointer[strings.LastIndexByte(a.Pointer, '/')+1:]
		if known = append(known, id); !slices.Contains(ids, id) {
			continue
		}
		var one map[string]map[string]json.RawMessage
		if err := json.Unmarshal(a.Patch, &one); err != nil {
			return nil, err
		}
		for member, things := range one {
			if all[member] == nil {
				all[member] = things
			}
			maps.Copy(all[member], things)
		}
	}
	for _, id := range ids {
		if !slices.Contains(known, id) {
			return nil, fmt.Errorf("--only %s was not proposed; proposed are: %s", id, strings.Join(known, ", "))
		}
	}
	return json.Marshal(all)
}

func printPlacing(w io.Writer, lang *words.Language, v engine.PlacingView) {
	fmt.Fprintln(w, v.Say)
	for _, a := range v.Adds {
		fmt.Fprintf(w, "%s  %s, %s / %s / %s m\n", a.Pointer[strings.LastIndexByte(a.Pointer, '/')+1:], a.Name, lang.Number(a.At[0], 1), lang.Number(a.At[1], 1), lang.Number(a.At[2], 1))
		for _, why := range a.Why {
			fmt.Fprintf(w, "    %s\n", why)
		}
		if a.Margin != nil {
			fmt.Fprintf(w, "    %s\n", lang.Say("radio margin about %s dB", lang.Number(*a.Margin, 1)))
		}
	}
	for _, u := range v.Unmet {
		fmt.Fprintln(w, lang.Say("stays open: %s; %s", u.Need, u.Why))
	}
	for _, b := range v.Brought {
		fmt.Fprintln(w, lang.Say("comes with it: %s", b))
	}
	for _, a := range v.Assumed {
		fmt.Fprintln(w, lang.Say("assumed: %s", a))
	}
	for _, m := range v.Missing {
		fmt.Fprintln(w, lang.Say("missing: %s", m))
	}
	fmt.Fprintln(w, v.Label)
}
