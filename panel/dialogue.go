package panel

import (
	"slices"

	"proofbell/quantity"
)

// Dialogue is how the keypad asks: named nodes, of which the panel is always at one.
type Dialogue struct {
	Start   string          `json:"start"`
	Recall  bool            `json:"recall,omitempty"` // a stored zone shows its answers, and the accept key alone takes them
	Edits   bool            `json:"edits,omitempty"`  // an opened zone holds what is stored, and answers replace it one by one
	Marks   string          `json:"marks,omitempty"`  // in a menu, stands in front of an item that the zone in hand already holds
	Refuses string          `json:"refuses"`          // what the display says to an answer it does not take
	Left    string          `json:"left"`             // what it says when programming has ended
	Dropped string          `json:"dropped"`          // what it says after the idle time
	Nodes   map[string]Node `json:"nodes"`
}

// Node is one prompt.
type Node struct {
	Shows   string   `json:"shows"`
	Why     string   `json:"why,omitempty"` // for the sheet: what the answer is good for
	Field   Field    `json:"field,omitempty"`
	Form    Form     `json:"form,omitempty"`
	Width   int      `json:"width,omitempty" bounds:"1,12"` // digits of a number or of one word
	End     string   `json:"end,omitempty"`                 // ends a list of words
	Auto    bool     `json:"auto,omitempty"`                // the answer is taken as soon as it is complete, without the accept key
	Turns   string   `json:"turns,omitempty"`               // of a toggle: the key that turns to the next answer
	Order   []string `json:"order,omitempty"`               // of a toggle: its answers in the order of turning, the first after the last
	Opens   bool     `json:"opens,omitempty"`               // the answer chooses the zone
	Listen  *Listen  `json:"listen,omitempty"`
	Choices []Choice `json:"choices,omitempty"` // of a confirmation
	Keys    []Pick   `json:"keys,omitempty"`    // keys that act at once; nothing is typed here
	Items   []Pick   `json:"items,omitempty"`   // of a menu: moved through with up and down, chosen with the accept key
	Next    []Next   `json:"next,omitempty"`
	Back    string   `json:"back,omitempty"` // "" or BackUp, BackLeave, or a node
}

// Form is how an answer is typed.
type Form string

// The forms of an answer.
const (
	FormNumber   Form = "number"   // exactly Width digits
	FormChoice   Form = "choice"   // one of the field's answers
	FormWords    Form = "words"    // numbers of Width digits, ended by End
	FormIdentity Form = "identity" // letters, then digits
	FormWord     Form = "word"     // the number of one word, or End for none
	FormToggle   Form = "toggle"   // one of the field's answers is shown, Turns shows the next, the accept key takes it
)

// What the back key does, besides naming a node.
const (
	BackUp    = "up"
	BackLeave = "leave"
)

// Listen lets the panel learn an identity from the device itself.
type Listen struct {
	For   quantity.Duration `json:"for"`
	Heard string            `json:"heard"` // the node that shows what was heard
}

// Choice is one answer of a confirmation.
type Choice struct {
	Answer string `json:"answer"`
	Does   Deed   `json:"does,omitempty"`
	Next   string `json:"next"`
	Says   string `json:"says,omitempty"` // short notice on the display afterwards
}

// Pick is one key of a node at which keys act at once, or one item of a menu.
type Pick struct {
	Key   string           `json:"key,omitempty"`   // of a key
	Shows string           `json:"shows,omitempty"` // of an item: what the display says when it is in sight
	Sets  map[Field]string `json:"sets,omitempty"`  // of an item: answers that choosing it gives
	Does  Deed             `json:"does,omitempty"`
	Go    string           `json:"go"`
	Says  string           `json:"says,omitempty"` // short notice on the display afterwards
}

// chooses reports whether an answer of the node is one of those that the profile lists.
func (n Node) chooses() bool { return n.Form == FormChoice || n.Form == FormToggle }

// Picks returns the keys that act at once or the items of the menu; nil for questions and confirmations.
func (n Node) Picks() []Pick {
	if len(n.Items) > 0 {
		return n.Items
	}
	return n.Keys
}

// Deed is what a confirmed answer does beyond moving on.
type Deed string

// The deeds.
const (
	DeedKeep Deed = "keep" // the zone in hand is stored
	DeedDrop Deed = "drop" // it is thrown away
	DeedTake Deed = "take" // the identity heard is written
	DeedSum  Deed = "sum"  // the sum of all answers of the zone in hand, mod 1000, is shown behind Says; of a Pick only
)

// Next is one way on from a node.
type Next struct {
	When map[Field][]string `json:"when,omitempty"` // field -> panel answers for which this way is taken; all must hold
	Go   string             `json:"go"`
}

// Holds reports whether the way is taken with these answers.
func (n Next) Holds(answered map[Field]string) bool {
	for f, answers := range n.When {
		if !slices.Contains(answers, answered[f]) {
			return false
		}
	}
	return true
}

// After returns the node that follows when the answers are these; "" when none does.
func (n Node) After(answered map[Field]string) string {
	for _, w := range n.Next {
		if w.Holds(answered) {
			return w.Go
		}
	}
	return ""
}

// Takes returns the answers that a choice, a toggle or a confirmation accepts, sorted; nil for free answers.
func (p *Profile) Takes(n Node) []string {
	var out []string
	switch {
	case n.Field == "":
		for _, c := range n.Choices {
			out = append(out, c.Answer)
		}
	case n.chooses() && n.Field == FieldKind:
		for _, k := range p.Kinds {
			out = append(out, k.Answer)
		}
	case n.chooses():
		for _, a := range p.Answers[n.Field] {
			out = append(out, a)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}
