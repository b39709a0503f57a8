package acoustics

import (
	"fmt"
	"math"

	"proofbell/quantity"
)

// Demand is what a rule set asks of a level; its figures differ by place and edition.
type Demand struct {
	OverAverage quantity.DB  // above the average of what else sounds
	OverLoudest quantity.DB  // above the loudest that lasts 60 s
	Least       quantity.DBA // never less
}

// Required is the level that must arrive: the largest of average + OverAverage, loudest + OverLoudest and Least. loudest is
// NaN when it was not measured. An average that is not known is refused: take one for the use of the room and say so.
func (d Demand) Required(average, loudest quantity.DBA) (quantity.DBA, error) {
	if !(average >= 0 && average <= 140) || loudest < 0 || loudest > 140 {
		return 0, fmt.Errorf("required level: average %v dBA, loudest %v dBA: %w", float64(average), float64(loudest), ErrInput)
	}
	need := max(average+quantity.DBA(d.OverAverage), d.Least)
	if !math.IsNaN(float64(loudest)) {
		need = max(need, loudest+quantity.DBA(d.OverLoudest))
	}
	return need, nil
}
