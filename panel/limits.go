package panel

import (
	"fmt"

	"proofbell/site"
)

// CanNot lists in words what a site may ask for and this panel can not be told: kinds, values and fields without an answer.
func (p *Profile) CanNot() []string {
	var out []string
	for _, k := range site.ZoneKinds {
		if _, ok := p.kind(k.Kind); !ok {
			out = append(out, "kind "+string(k.Kind))
		}
	}
	for _, f := range wholes {
		switch {
		case f == FieldZone:
		case p.divides(f):
		case !p.asks(f) && !p.sets(f):
			out = append(out, "any "+string(f))
		default:
			for _, v := range valuesOf[f] {
				if !p.Can(f, v) {
					out = append(out, string(f)+" "+v)
				}
			}
		}
	}
	return out
}

func (p *Profile) asks(f Field) bool {
	for _, n := range p.Dialogue.Nodes {
		if n.Field == f {
			return true
		}
	}
	return false
}

// sets reports whether an item of a menu sets a field.
func (p *Profile) sets(f Field) bool {
	for _, n := range p.Dialogue.Nodes {
		for _, k := range n.Items {
			if _, ok := k.Sets[f]; ok {
				return true
			}
		}
	}
	return false
}

// divides reports whether the panel asks for all parts of a field instead of the whole.
func (p *Profile) divides(f Field) bool {
	for _, part := range p.Parts(f) {
		if !p.asks(part) {
			return false
		}
	}
	return len(p.Parts(f)) > 0
}

// Unsafe lists the dangerous answers that the panel would take for a life-safety zone without a word. The keypad does not
// think: the rules have to stop such a zone before it is keyed.
func (p *Profile) Unsafe() []string {
	var out []string
	add := func(f Field, value, say string) {
		if a, ok := p.Answer(f, value); ok && (p.asks(f) || p.sets(f)) {
			out = append(out, fmt.Sprintf("%s %s: %s", f, a, say))
		}
	}
	add(FieldBypass, Yes, "users may leave a fire or CO zone out")
	add(FieldDoorTone, Yes, "a door tone on a fire or CO zone")
	add(FieldPaths, PathsNone, "a fire or CO zone that tells nobody")
	add(FieldPaths, PathsMain, "a fire or CO zone that is lost with the main path")
	add(FieldPaths, PathsBack, "a fire or CO zone that is lost with the back-up path")
	add(FieldPathMain, No, "a fire or CO zone that the main path does not report")
	add(FieldPathBackup, No, "a fire or CO zone that is lost with the main path")
	add(FieldTripLimit, Yes, "a fire or CO zone that falls silent after some trips")
	for _, w := range p.LossWindows() {
		if w.Value != LossFire {
			add(FieldLoss, w.Value, "a fire or CO device whose silence is noticed late or never")
		}
	}
	if a, ok := p.Kind(site.SmokeVerified); ok {
		out = append(out, fmt.Sprintf("%s %s: verification for heat, call points, listeners or radio heads that can not be reset", FieldKind, a))
	}
	if p.asks(FieldCode) {
		out = append(out, string(FieldCode)+": any three digits with any kind, also a burglary code on a fire zone")
	}
	if p.asks(FieldIdentity) || p.divides(FieldIdentity) {
		out = append(out, string(FieldIdentity)+": one identity and terminal in several zones, and a wrong check digit")
	}
	return out
}
