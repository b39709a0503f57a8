package engine

import (
	"slices"
	"strings"
	"time"

	"proofbell/internal/guide"
	"proofbell/panel"
	"proofbell/site"
)

// KeyGuide is a keypad guide with the zones to choose from and what a trainer records it with.
type KeyGuide struct {
	Guide    guide.Course  `json:"guide"`
	Zones    []Choice      `json:"zones"`    // that can be shown
	Each     []site.ZoneID `json:"each"`     // one of each kind
	Script   string        `json:"script"`   // plain text: scene, what to show, what to say, with times
	Captions string        `json:"captions"` // WebVTT
}

// Guide teaches what is keyed: the zones that are named, or one of each kind.
func (d *Desk) Guide(now time.Time, reader guide.Reader, zones []site.ZoneID) (KeyGuide, error) {
	if d.profile == nil {
		return KeyGuide{}, &Problem{
			Code: "not-found", Say: d.lang.Say("There is no panel profile %q.", d.State.Site.Panel.Profile),
			Try: d.lang.Say("Choose one of: %s.", strings.Join(panel.Names(), ", ")),
		}
	}
	if !slices.Contains([]guide.Reader{"", guide.Junior, guide.Customer}, reader) {
		return KeyGuide{}, &Problem{Code: "bad-request", Say: d.lang.Say("There is no guide for %q.", string(reader)), Try: d.lang.Say("Choose one of: %s.", "junior, customer")}
	}
	sheet := d.whole(now)
	o := guide.Options{Lang: d.lang, Reader: reader, Lost: Lost(d.lang, d.profile)}
	for _, id := range zones {
		o.Zones = append(o.Zones, d.number(id))
	}
	v := KeyGuide{Guide: guide.Make(d.State.Site, d.profile, sheet, o), Zones: []Choice{}, Each: slices.Concat([]site.ZoneID{}, guide.OneOfEach(sheet))}
	for _, z := range sheet.Zones {
		v.Zones = append(v.Zones, Choice{Value: string(z.Zone), Say: strings.TrimSpace(string(z.Zone) + " " + z.Label)})
	}
	v.Script, v.Captions = guide.Script(v.Guide), guide.Captions(v.Guide)
	return v, nil
}
