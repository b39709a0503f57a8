package papers

import (
	"proofbell/internal/practice"
	"proofbell/internal/words"
)

// PracticeResult is the document that says how a practice with planted mistakes was marked. It is about an exercise and not
// about a job, so it stands in no bundle.
const PracticeResult = "practice-result"

var practiceResult = Kind{PracticeResult, File, words.Mark("How the practice was marked"), words.Mark("Planted mistakes found and missed, wrong alarms, each with its reason; what was rehearsed"), []string{"pdf"}, nil, (*writer).marked}

// Marking is what the result of a practice is made from.
type Marking struct {
	Marks     practice.Marks
	Planted   string   // what was given out: number, level, the day for which it is judged
	Handed    string   // when and by whom; "" not told
	Rehearsed []string // rehearsals, in words
}

// marked writes the result of a practice.
func (w *writer) marked() {
	l := w.l
	note := PracticeNote(l)
	if w.Marking == nil {
		w.lack("survey", l.Say("The practice is not handed in yet"))
		w.add(Section{ID: "note", Framed: true, Text: []string{l.Say("What is wrong in a practice is told when it was handed in."), note}})
		return
	}
	m := w.Marking.Marks
	w.add(Section{ID: "note", Framed: true, Text: []string{note}})
	var about []Pair
	w.pair(&about, l.Say("Result"), l.Say("PRACTICE: %d of %d planted mistakes found, %d missed, wrong alarms: %d.", len(m.Found), m.Planted, len(m.Missed), len(m.Wrong)))
	w.pair(&about, l.Say("Given out"), w.Marking.Planted)
	w.pair(&about, l.Say("Handed in"), w.Marking.Handed)
	w.add(Section{ID: "result", Title: l.Say("Result"), Pairs: about})
	list := func(id, title, grave string, items []practice.Marked) {
		if len(items) == 0 {
			return
		}
		s := Section{ID: id, Title: title}
		for _, i := range items {
			say := i.Say
			if i.What != "" {
				say = l.Say("Named: %s.", i.What) + " " + say
			}
			s.Findings = append(s.Findings, Finding{Grave: grave, Where: i.Where, Say: say, Do: i.Do})
		}
		w.add(s)
	}
	list("missed", l.Say("Missed"), l.Say("MISSED"), m.Missed)
	list("wrong", l.Say("Wrong alarms"), l.Say("WRONG ALARM"), m.Wrong)
	list("found", l.Say("Found"), l.Say("FOUND"), m.Found)
	list("true", l.Say("Also true, and not planted: it counts neither way"), l.Say("ALSO TRUE"), m.True)
	if len(w.Marking.Rehearsed) > 0 {
		w.add(Section{ID: "rehearsed", Title: l.Say("Rehearsed at the simulated keypad"), Text: w.Marking.Rehearsed})
	}
}

// PracticeNote says what the marking of a practice is and what it is not.
func PracticeNote(l *words.Language) string {
	return l.Say("Practice. It marks one exercise and says nothing about what a person may do. It is no certificate.")
}
