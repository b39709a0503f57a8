package reach

import (
	"math"

	"proofbell/internal/words"
	"proofbell/reliability"
)

// model is how a part's figure is found.
type model int

const (
	plain model = iota // as the table says
	tested
	supervised
	diagnosed
	partly
	aged // partly, of a part whose age is known
	link
	certain
	shared // beta times the figure of the parts that it stands for
)

// part is one thing that can fail, with how its figure was found.
type part struct {
	id      string
	at      string // JSON pointer; empty: not of the site
	name    words.Text
	fails   words.Text // "the panel fails"
	noticed words.Text // how long until somebody knows
	short   words.Text // "noticed after 4 h"
	row     *rate
	model   model
	detect  float64 // hours
	age     float64 // hours
	margin  float64 // dB, of the weakest hop
	hops    int     // of a link; 0: one
	u       reliability.Range
	node    reliability.Node
	index   int
}

func each(f func(end func(reliability.Range) float64) float64) reliability.Range {
	low, mid, high := f(reliability.Low), f(reliability.Mid), f(reliability.High)
	mid = max(low, mid)
	return reliability.Range{Low: low, Mid: mid, High: max(mid, high)}
}

// add takes a part into the system, once.
func (m *Model) add(p part) reliability.Node {
	if have := m.parts[p.id]; have != nil {
		return have.node
	}
	rateName := ""
	if p.row != nil {
		rateName = p.row.id
	}
	if p.model != shared {
		p.u = m.figure(&p)
	}
	p.index = len(m.sys.Parts)
	p.node = m.sys.Part(reliability.Part{ID: p.id, Unavailable: p.u, Rate: rateName})
	one := &p
	m.parts[p.id] = one
	m.byPart = append(m.byPart, one)
	return p.node
}

// figure is the unavailability of a part by its model. Rates of the table and times of the site are within what the formulas
// take, so that none of them refuses.
func (m *Model) figure(p *part) reliability.Range {
	button := rateOf("button").of
	return each(func(end func(reliability.Range) float64) (u float64) {
		switch p.model {
		case tested:
			u, _ = reliability.Tested(end(p.row.of), end(m.T))
		case supervised:
			u, _ = reliability.Supervised(end(p.row.of), p.detect, end(m.repair))
		case diagnosed:
			u, _ = reliability.Diagnosed(end(p.row.of), otherEnd(rateOf("seen").of, end), end(m.T), end(m.repair))
		case partly:
			u, _ = reliability.PartlyTested(end(p.row.of), otherEnd(button, end), end(m.T), tenYears)
		case aged:
			c := otherEnd(button, end)
			shown, _ := reliability.Tested(c*end(p.row.of), end(m.T))
			gone, _ := reliability.Failed((1-c)*end(p.row.of), p.age)
			u = shown + gone - shown*gone
		case link:
			u = math.Pow(-math.Expm1(-math.Pow(10, -p.margin/10)), copies(end))
			if p.margin < -100 {
				u = 1
			}
			if p.hops > 1 { // each as bad as the weakest
				u = -math.Expm1(float64(p.hops) * math.Log1p(-u))
			}
		case certain:
			u = 1
		default:
			u = end(p.row.of)
		}
		return min(1, max(0, u))
	})
}

const tenYears = 87600

// otherEnd is the end of a range that goes with the other end of the result: much seen, little missing.
func otherEnd(r reliability.Range, end func(reliability.Range) float64) float64 {
	return r.Low + r.High - end(reliability.Range{Low: r.Low, Mid: r.Low + r.High - r.Mid, High: r.High})
}

// copies is how many of the repeats of a message count as new tries: three at best, one at worst.
func copies(end func(reliability.Range) float64) float64 {
	return 4 - end(reliability.Range{Low: 1, Mid: 2, High: 3})
}
