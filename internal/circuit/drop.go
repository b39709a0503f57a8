package circuit

import (
	"math"

	"proofbell/electrical"
	"proofbell/internal/words"
	"proofbell/quantity"
	"proofbell/site"
)

// Verdict of a circuit's voltages.
type Verdict string

// The verdicts.
const (
	Enough        Verdict = "enough"  // at each device more than its least voltage
	TooLow        Verdict = "too-low" // somewhere less
	Unserved      Verdict = "unserved"
	NotDetermined Verdict = "not-determined"
)

// Node is one place of a circuit.
type Node struct {
	ID     string   `json:"id"`
	Name   string   `json:"name"`
	Volts  *float64 `json:"volts"`  // V; nil: not determined
	Least  *float64 `json:"least"`  // V it works down to; nil: not known, or no device
	Margin *float64 `json:"margin"` // V over that
	Amps   float64  `json:"amps"`   // A that it draws
	Cable  float64  `json:"cable"`  // A in the cable to it
	Fails  bool     `json:"fails"`
	Say    string   `json:"say"`
}

// Drop is the voltages of a circuit.
type Drop struct {
	Circuit  string   `json:"circuit"`
	Name     string   `json:"name"`
	Kind     string   `json:"kind"`
	Verdict  Verdict  `json:"verdict"`
	Say      string   `json:"say"`      // the answer in a sentence
	Nodes    []Node   `json:"nodes"`    // in the order of the ids
	First    string   `json:"first"`    // id of the node that fails first, or has the least margin; empty: none
	Thumb    *float64 `json:"thumb"`    // V at the end by the rule of thumb
	ThumbSay string   `json:"thumbSay"` // the same in a sentence
	Smallest string   `json:"smallest"` // thinnest conductor of the table with which all works; empty: none, or not determined
	SmallSay string   `json:"smallSay"`
	BreakSay string   `json:"breakSay"` // of a ring: what its worst break leaves; empty: no ring
	Total    *float64 `json:"total"`    // A from the supply
	Loss     *float64 `json:"loss"`     // W in the cables
	Missing  []string `json:"missing"`
	Assumed  []string `json:"assumed"`

	w    *wiring
	flow electrical.Flow
	cut  *broken
}

// broken is what the worst break of a ring leaves.
type broken struct {
	cable int // index of a part, or their number for the way back
	node  int
	flow  electrical.Flow
}

// DropOf works out a circuit of a site.
func DropOf(lang *words.Language, s *site.Site, id site.CircuitID) (Drop, error) {
	d, err := drop(newWiring(lang, s, s.Circuits[id], "/circuits/"+string(id)))
	d.Circuit = string(id)
	if d.Name == "" {
		d.Name = string(id)
	}
	return d, err
}

// DropOfPlain works out a circuit that stands in no site. Units as the premises of s say.
func DropOfPlain(lang *words.Language, s *site.Site, c site.Circuit) (Drop, error) {
	if c.Name == "" {
		c.Name = lang.Say("numbers given")
	}
	return drop(newWiring(lang, s, c, ""))
}

func drop(w *wiring) (Drop, error) {
	d := Drop{Name: w.circuit.Name, Kind: w.circuit.Kind, Verdict: NotDetermined, w: w, Nodes: []Node{}, Missing: []string{}, Assumed: []string{}}
	f, ok := w.build(quantity.Conductor{})
	w.feed = f
	if !ok {
		for _, id := range w.ids {
			d.Nodes = append(d.Nodes, Node{ID: string(id), Name: w.name(id)})
		}
		d.Say = w.lang.Say("Not determined: %s is missing.", w.missing[0])
		d.Missing = w.missing
		return d, nil
	}
	w.noteCable()
	if w.circuit.Inner.IsZero() {
		w.assume(w.lang.Say("the voltage at the panel's terminals stands whatever is drawn"))
	}
	flow, err := electrical.Solve(f)
	if err != nil {
		return d, err
	}
	d.flow = flow
	total, loss := quantity.Round(flow.Total, 3), quantity.Round(flow.Loss, 2)
	d.Total, d.Loss = &total, &loss
	worst := math.Inf(1)
	unknown := 0
	for i, id := range w.ids {
		n := Node{ID: string(id), Name: w.name(id), Cable: quantity.Round(flow.Amps[i], 3), Amps: quantity.Round(float64(f.Parts[i].Current)+float64(f.Parts[i].Power)/flow.Volts[i], 3)}
		v := quantity.Round(flow.Volts[i], 2)
		n.Volts = &v
		n.Say = w.lang.Say("%s V", w.lang.Number(v, 2))
		drawing := f.Parts[i].Current > 0 || f.Parts[i].Power > 0
		switch least := float64(f.Parts[i].Least); {
		case least > 0:
			m := quantity.Round(v-least, 2)
			n.Least, n.Margin, n.Fails = &least, &m, m < 0
			if m < worst {
				worst, d.First = m, n.ID
			}
		case drawing:
			unknown++
			w.lack(w.lang.Say("%s: voltage down to which it works", n.Name))
		}
		d.Nodes = append(d.Nodes, n)
	}
	switch {
	case flow.Served < 1:
		d.Verdict, d.First = Unserved, string(w.ids[flow.Stuck])
		d.Say = w.lang.Say("This cable can not feed it: at %s the voltage falls away. No more than %s %% of what is drawn can be carried.", w.name(w.ids[flow.Stuck]), w.lang.Number(math.Floor(flow.Served*100), 0))
		for i := range d.Nodes {
			d.Nodes[i].Volts, d.Nodes[i].Margin, d.Nodes[i].Say = nil, nil, w.lang.Say("does not run")
			d.Nodes[i].Fails = f.Parts[i].Current > 0 || f.Parts[i].Power > 0
		}
		d.Total, d.Loss = nil, nil
	case worst < 0:
		d.Verdict = TooLow
		n := d.Nodes[w.index[site.PartID(d.First)]]
		d.Say = w.lang.Say("%s gets %s V and needs %s V: %s V too little.", n.Name, w.lang.Number(*n.Volts, 2), w.lang.Number(*n.Least, -1), w.lang.Number(-*n.Margin, 2))
	case math.IsInf(worst, 1):
		d.Say = w.lang.Say("Voltages are known, but not down to which voltage the devices work.")
	case unknown > 0:
		d.Say = w.lang.Say("%s has %s V to spare; of %d devices it is not known down to which voltage they work.", w.name(site.PartID(d.First)), w.lang.Number(worst, 2), unknown)
	default:
		d.Verdict = Enough
		n := d.Nodes[w.index[site.PartID(d.First)]]
		d.Say = w.lang.Say("%s gets %s V and needs %s V: %s V to spare, the least of all.", n.Name, w.lang.Number(*n.Volts, 2), w.lang.Number(*n.Least, -1), w.lang.Number(*n.Margin, 2))
	}
	if err := d.ring(); err != nil {
		return d, err
	}
	if err := d.thumb(); err != nil {
		return d, err
	}
	d.smallest()
	d.Missing, d.Assumed = append(d.Missing, w.missing...), append(d.Assumed, w.assumed...)
	return d, nil
}

// fails tells the part with the least margin of a flow, and whether all is well: all draws carried, no device under its
// least voltage. Published figures are compared.
func fails(f electrical.Feed, flow electrical.Flow) (worst int, margin float64) {
	if flow.Served < 1 {
		return flow.Stuck, math.Inf(-1)
	}
	worst, margin = -1, math.Inf(1)
	for i, p := range f.Parts {
		if p.Least > 0 {
			if m := quantity.Round(quantity.Round(flow.Volts[i], 2)-float64(p.Least), 2); m < margin {
				worst, margin = i, m
			}
		}
	}
	return worst, margin
}

// worstBreak cuts a ring in each of its cables.
func worstBreak(f electrical.Feed) (*broken, float64, error) {
	var out *broken
	least := math.Inf(1)
	for _, cut := range f.Ring() {
		flow, err := electrical.Break(f, cut)
		if err != nil {
			return nil, 0, err
		}
		if node, margin := fails(f, flow); node >= 0 && (out == nil || margin < least) {
			out, least = &broken{cut, node, flow}, margin
		}
	}
	return out, least, nil
}

func (d *Drop) cableName(cut int) string {
	w := d.w
	end := func(i int) string {
		if i < 0 {
			return w.lang.Say("panel")
		}
		return w.name(w.ids[i])
	}
	if cut == len(w.ids) {
		return w.lang.Say("%s to %s", end(w.feed.Back), end(-1))
	}
	return w.lang.Say("%s to %s", end(w.feed.Parts[cut].From), end(cut))
}

func (d *Drop) ring() error {
	cut, margin, err := worstBreak(d.w.feed)
	if err != nil || cut == nil {
		return err
	}
	d.cut = cut
	w := d.w
	where, node := d.cableName(cut.cable), w.name(w.ids[cut.node])
	switch {
	case cut.flow.Served < 1:
		d.BreakSay = w.lang.Say("Worst break, %s: the rest can not feed %s.", where, node)
	case margin < 0:
		d.BreakSay = w.lang.Say("Worst break, %s: %s gets %s V, %s V too little.", where, node, w.lang.Number(cut.flow.Volts[cut.node], 2), w.lang.Number(-margin, 2))
	default:
		d.BreakSay = w.lang.Say("Worst break, %s: %s still gets %s V, %s V to spare.", where, node, w.lang.Number(cut.flow.Volts[cut.node], 2), w.lang.Number(margin, 2))
	}
	if margin < 0 && d.Verdict == Enough {
		d.Verdict, d.First = TooLow, string(w.ids[cut.node])
		d.Say = w.lang.Say("Enough while the ring is whole. %s", d.BreakSay)
	}
	return nil
}

func (d *Drop) thumb() error {
	v, err := electrical.EndOfLine(d.w.feed)
	if err != nil {
		return err
	}
	r := quantity.Round(float64(v), 2)
	d.Thumb = &r
	d.ThumbSay = d.w.lang.Say("By the rule of thumb, all current at the far end: %s V.", d.w.lang.Number(r, 2))
	return nil
}

// smallest tries the conductors of the table from thin to thick.
func (d *Drop) smallest() {
	w := d.w
	kind, _ := w.circuit.Cable.Conductor.Gauge()
	if kind == "" {
		if kind = quantity.SquareMM; w.site.Premises.Units == "imperial" {
			kind = quantity.AWG
		}
	}
	if _, margin := fails(w.feed, d.flow); math.IsInf(margin, 1) {
		return // nothing to hold it against
	}
	trial := *w
	trial.circuit.Cable.Measured = quantity.Resistance{}
	if trial.circuit.Cable.Material == "other" { // copper would be laid instead
		trial.circuit.Cable.Material = "copper"
	}
	for _, wire := range electrical.Wires {
		if wire.Size != kind {
			continue
		}
		size, err := quantity.ParseConductor(wire.Name)
		if err != nil {
			continue
		}
		f, ok := trial.build(size)
		if !ok {
			return
		}
		flow, err := electrical.Solve(f)
		if err != nil {
			return
		}
		if _, margin := fails(f, flow); margin < 0 {
			continue
		}
		if cut, margin, err := worstBreak(f); err != nil || cut != nil && margin < 0 {
			continue
		}
		d.Smallest = wire.Name
		d.SmallSay = w.lang.Say("Thinnest conductor of the table that does: %s.", wire.Name)
		return
	}
	d.SmallSay = w.lang.Say("No conductor of the table is thick enough: a shorter way, a second circuit or a supply nearer to it.")
}
