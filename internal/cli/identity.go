package cli

import (
	"fmt"
	"strings"

	"proofbell/internal/book"
	"proofbell/internal/engine"
	"proofbell/internal/words"
	"proofbell/site"
)

type identityCmd struct {
	Site   string `arg:"" name:"SITE.yaml" help:"Site file; - for standard input."`
	Text   string `arg:"" name:"TEXT" help:"What stands on the label, or what a code or the panel's display says."`
	Zone   string `help:"Zone whose device is meant." placeholder:"ZONE" xor:"of"`
	Device string `help:"Device that is meant." placeholder:"DEVICE" xor:"of"`
	Heard  bool   `help:"The panel heard it: say which keys keep or refuse it."`
	JSON   bool   `help:"Print one JSON document."`
	Lang   string `default:"en" enum:"en,de" help:"Language: ${enum}."`
}

// Run says what an identity is worth; not good when its check digit is not right or it is not the planned one.
func (c *identityCmd) Run(io *streams) error {
	s, _, err := readSite(c.Site, io.in)
	if err != nil {
		return err
	}
	if _, known := s.Zones[site.ZoneID(c.Zone)]; c.Zone != "" && !known {
		return fmt.Errorf("%s: there is no zone %q: zones are %s", c.Site, c.Zone, words.List(nil, site.SortedIDs(s.Zones)))
	}
	if _, known := s.Devices[site.DeviceID(c.Device)]; c.Device != "" && !known {
		return fmt.Errorf("%s: there is no device %q: devices are %s", c.Site, c.Device, words.List(nil, site.SortedIDs(s.Devices)))
	}
	state := book.New("")
	state.Site = s
	lang := words.In(c.Lang)
	v := engine.NewDesk(state, 0).In(lang).ReadIdentity(engine.IdentityArg{Text: c.Text, Zone: c.Zone, Device: c.Device, Heard: c.Heard})
	if c.JSON {
		err = printJSON(io.out, v)
	} else {
		for _, line := range append([]string{v.Shown, v.Name}, v.Say...) {
			if line != "" {
				fmt.Fprintln(io.out, line)
			}
		}
		for _, one := range v.Likely {
			fmt.Fprintf(io.out, "? %s (%s)\n", one.Shown, one.Say)
		}
		if v.Try != "" {
			fmt.Fprintln(io.out, v.Try)
		}
		if keys := strings.Join(v.Press, " "); keys != "" && v.Refuse {
			fmt.Fprintln(io.out, lang.Say("Refuse it: press %s.", keys))
		} else if keys != "" {
			fmt.Fprintln(io.out, lang.Say("Take it: press %s.", keys))
		}
	}
	if err == nil && (v.Check != engine.IdentityRight || v.Planned != "" && !v.Same) {
		err = ErrNotGood
	}
	return err
}
