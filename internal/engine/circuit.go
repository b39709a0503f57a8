package engine

import (
	"encoding/json"
	"math"
	"strings"

	"proofbell/internal/circuit"
	"proofbell/internal/words"
	"proofbell/internal/worked"
	"proofbell/quantity"
	"proofbell/site"
)

// CircuitArg says which wired circuit is asked about, and what was measured on it.
type CircuitArg struct {
	Circuit  string `json:"circuit"`
	Measured string `json:"measured"` // as typed: "4.7 kilohm", "open", "5.4 V"; empty: nothing
}

// CircuitLine is one wired circuit in the list of all.
type CircuitLine struct {
	ID   string `json:"id"`
	Name string `json:"name"`
	Kind string `json:"kind"` // input, sounder, bus
	Bad  bool   `json:"bad"`  // a device gets too little, or states can not be told apart
	Say  string `json:"say"`
}

// CircuitDrop is the voltages of a circuit with their sheet.
type CircuitDrop struct {
	Drop  circuit.Drop `json:"drop"`
	Sheet worked.Sheet `json:"sheet"`
}

// CircuitLoop is a supervised input with its sheet.
type CircuitLoop struct {
	Loop  circuit.Loop `json:"loop"`
	Sheet worked.Sheet `json:"sheet"`
}

// Circuits lists the wired circuits of the panel; mains circuits are the electrician's.
func (d *Desk) Circuits() ([]CircuitLine, error) {
	out := []CircuitLine{}
	for _, id := range site.SortedIDs(d.State.Site.Circuits) {
		c := d.State.Site.Circuits[id]
		line := CircuitLine{ID: string(id), Name: c.Name, Kind: c.Kind}
		if line.Name == "" {
			line.Name = line.ID
		}
		switch c.Kind {
		case "mains":
			continue
		case "input":
			l, err := circuit.LoopOf(d.lang, d.State.Site, id, circuit.Measured{})
			if err != nil {
				line.Bad, line.Say = true, words.Said(err).In(d.lang)
				break
			}
			line.Bad, line.Say = l.Unclear, l.Say
		default:
			v, err := circuit.DropOf(d.lang, d.State.Site, id)
			if err != nil {
				line.Bad, line.Say = true, words.Said(err).In(d.lang)
				break
			}
			line.Bad, line.Say = v.Verdict == circuit.TooLow || v.Verdict == circuit.Unserved, v.Say
		}
		out = append(out, line)
	}
	return out, nil
}

// CircuitDrop works out the voltages of a circuit, with a change that is not kept yet.
func (d *Desk) CircuitDrop(a CircuitArg, patch json.RawMessage) (CircuitDrop, error) {
	s, id, err := d.circuitOf(a, patch)
	if err != nil {
		return CircuitDrop{}, err
	}
	v, err := circuit.DropOf(d.lang, s, id)
	if err != nil {
		return CircuitDrop{}, mendValue(err)
	}
	return CircuitDrop{v, v.Sheet()}, nil
}

// CircuitLoop reads a supervised input, with what was measured.
func (d *Desk) CircuitLoop(a CircuitArg, patch json.RawMessage) (CircuitLoop, error) {
	s, id, err := d.circuitOf(a, patch)
	if err != nil {
		return CircuitLoop{}, err
	}
	m, err := ReadMeasured(a.Measured)
	if err != nil {
		return CircuitLoop{}, mendValue(err)
	}
	v, err := circuit.LoopOf(d.lang, s, id, m)
	if err != nil {
		return CircuitLoop{}, mendValue(err)
	}
	return CircuitLoop{v, v.Sheet()}, nil
}

func (d *Desk) circuitOf(a CircuitArg, patch json.RawMessage) (*site.Site, site.CircuitID, error) {
	s := d.State.Site
	if len(patch) > 0 && string(patch) != "null" {
		var err error
		if s, err = d.withPatch(patch); err != nil {
			return nil, "", err
		}
	}
	id := site.CircuitID(a.Circuit)
	if _, there := s.Circuits[id]; !there {
		return nil, "", &Problem{Code: "not-found", text: words.Later("There is no circuit %s.", a.Circuit), Try: words.Mark("Go back to the list of circuits.")}
	}
	return s, id, nil
}

func mendValue(err error) error {
	return &Problem{Code: "bad-request", text: words.Said(err), Try: words.Mark("Mend the value."), Err: err}
}

// ReadMeasured reads what a technician read off a meter: a resistance with its unit, a number alone in ohms, volts, or that
// the meter shows open. Empty is nothing.
func ReadMeasured(text string) (circuit.Measured, error) {
	text = strings.TrimSpace(text)
	switch strings.ToLower(text) {
	case "":
		return circuit.Measured{}, nil
	case "open", "ol", "o.l", "offen", "\u221e":
		open := math.Inf(1)
		return circuit.Measured{Ohm: &open}, nil
	}
	if strings.Trim(text, "0123456789.,") == "" {
		text += " ohm"
	}
	if v, err := quantity.Parse[quantity.VoltageDimension](text); err == nil {
		volts := v.SI()
		return circuit.Measured{Volt: &volts}, nil
	}
	r, err := quantity.Parse[quantity.ResistanceDimension](text)
	if err != nil {
		return circuit.Measured{}, err
	}
	ohm := r.SI()
	return circuit.Measured{Ohm: &ohm}, nil
}
