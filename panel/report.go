package panel

import (
	"slices"
	"strings"

	"proofbell/internal/words"
	"proofbell/site"
)

// Report says what a profile covers, for its author. It is made of a profile that passes [Profile.Check].
type Report struct {
	Name    string        `json:"name"`
	Title   string        `json:"title"`
	Version string        `json:"version"`
	Asks    string        `json:"asks"` // in which of the three ways the keypad asks
	Zones   ZoneRange     `json:"zones"`
	Words   int           `json:"words"` // in the spoken list
	Nodes   int           `json:"nodes"`
	Fields  []FieldReport `json:"fields"`
	Kinds   []KindReport  `json:"kinds"`
	CanNot  []string      `json:"canNot"` // what a site may ask for and this panel can not be told
	Unsafe  []string      `json:"unsafe"` // what it would take for a life-safety zone without a word
	Notes   []string      `json:"notes"`  // what could be added to the profile
}

// FieldReport says how the panel is told one field.
type FieldReport struct {
	Field   Field    `json:"field"`
	Say     string   `json:"say"`
	How     string   `json:"how"`
	At      []string `json:"at"`      // what the display shows there
	Answers []string `json:"answers"` // of a field with listed answers: what the panel takes, and what it means
}

// KindReport says what the panel does with one kind of zone.
type KindReport struct {
	Kind    site.ZoneKind `json:"kind"`
	Say     string        `json:"say"`
	Answer  string        `json:"answer"`
	Code    string        `json:"code,omitempty"`
	Prompts int           `json:"prompts"` // on the longest way from choosing the zone to keeping it; of drawers and menus the answers that can be given
	Restore string        `json:"restore"`
	Test    string        `json:"test"`
}

var restores = map[RestorePolicy]string{
	RestoreFollows: words.Mark("when the device clears"), RestoreReset: words.Mark("held until the panel is reset"),
	RestoreBell: words.Mark("when the sounder stops"), RestoreNone: words.Mark("never sent"),
}

var tests = map[TestPolicy]string{
	"": words.Mark("not said"), TestReports: words.Mark("reported as in earnest"), TestMarked: words.Mark("reported as a test"), TestSilent: words.Mark("not reported"),
}

// Report makes the coverage report in a language.
func (p *Profile) Report(lang *words.Language) Report {
	r := Report{
		Name: p.Name, Title: p.Title, Version: p.Version, Asks: lang.Word(p.family()), Zones: p.Zones, Words: len(p.Words), Nodes: len(p.Dialogue.Nodes),
		Fields: []FieldReport{}, Kinds: []KindReport{}, CanNot: said(lang, p.CanNot()), Unsafe: said(lang, p.Unsafe()), Notes: said(lang, p.Unsaid()),
	}
	for _, f := range fields {
		whole := slices.Contains(wholes, f)
		if whole && (f == FieldZone || !p.divides(f)) || !whole && p.asks(f) {
			r.Fields = append(r.Fields, p.fieldReport(lang, f))
		}
	}
	prompts := newChecker(p).ways()
	for _, k := range p.Kinds {
		say := string(k.Kind)
		for _, known := range site.ZoneKinds {
			if known.Kind == k.Kind {
				say = lang.Word(known.Say)
			}
		}
		r.Kinds = append(r.Kinds, KindReport{
			Kind: k.Kind, Say: say, Answer: k.Answer, Code: k.Code, Prompts: max(prompts[k.Answer], prompts[anything]), Restore: lang.Word(restores[k.Restore]), Test: lang.Word(tests[k.Test]),
		})
	}
	return r
}

func said(lang *words.Language, texts []words.Text) []string {
	out := make([]string, len(texts))
	for i, t := range texts {
		out[i] = t.In(lang)
	}
	return out
}

// family is the way in which the keypad asks.
func (p *Profile) family() string {
	family := words.Mark("question by question")
	for _, n := range p.Dialogue.Nodes {
		if len(n.Items) > 0 {
			return words.Mark("menus, one below the other")
		}
		if len(n.Keys) > 0 {
			family = words.Mark("drawers and slots")
		}
	}
	return family
}

func (p *Profile) fieldReport(lang *words.Language, f Field) FieldReport {
	r := FieldReport{Field: f, Say: f.Say().In(lang), At: []string{}, Answers: []string{}}
	var asked []Node
	offered := false
	for _, id := range p.order() {
		n := p.Dialogue.Nodes[id]
		if n.Field == f {
			asked = append(asked, n)
			r.At = append(r.At, n.Shows)
		}
		if slices.ContainsFunc(n.Items, func(k Pick) bool { _, ok := k.Sets[f]; return ok }) {
			offered = true
			r.At = append(r.At, n.Shows)
		}
	}
	switch {
	case slices.Contains(p.Lacks, f):
		r.How = lang.Say("no setting for single zones")
	case offered && len(asked) == 0:
		r.How = lang.Say("chosen in a menu")
	case len(asked) > 0:
		r.How = asked[0].How().In(lang)
	}
	for _, a := range p.Takes(Node{Field: f, Form: FormChoice}) {
		if v, ok := p.Value(f, a); ok {
			if say := SayValue(v).In(lang); say != a {
				a += " " + say
			}
			r.Answers = append(r.Answers, a)
		}
	}
	return r
}

// How says in words how the answer of a question is given; nothing for other nodes.
func (n Node) How() words.Text {
	var way words.Text
	switch n.Form {
	case FormNumber:
		way = words.Later("number, width %d", n.Width)
	case FormChoice:
		way = words.Later("one of the answers, typed")
	case FormWords:
		way = words.Later("word numbers, width %d, ended by %s", n.Width, words.Typed(n.End))
	case FormWord:
		way = words.Later("word number, width %d, or %s for none", n.Width, words.Typed(n.End))
	case FormIdentity:
		if way = words.Later("letters, then digits"); n.Listen != nil {
			way = words.Later("letters, then digits, or heard within %s", n.Listen.For)
		}
	case FormToggle:
		way = words.Later("turned with %s: %s", words.Typed(n.Turns), words.Typed(strings.Join(n.Order, ", ")))
	}
	if n.Auto {
		return words.Later("%s; without the accept key", way)
	}
	return way
}

// order lists the nodes from the start on, nearest first, in the order of their ways; what is not led to comes last.
func (p *Profile) order() []string {
	d := p.Dialogue
	out := []string{d.Start}
	seen := map[string]bool{d.Start: true}
	for i := 0; i < len(out); i++ {
		for _, to := range d.Nodes[out[i]].leads() {
			if _, ok := d.Nodes[to]; ok && !seen[to] {
				seen[to] = true
				out = append(out, to)
			}
		}
	}
	return out
}

// leads lists the nodes to which the ways out of a node lead, the back key apart.
func (n Node) leads() []string {
	var out []string
	for _, k := range n.Picks() {
		out = append(out, k.Go)
	}
	if n.Listen != nil {
		out = append(out, n.Listen.Heard)
	}
	for _, c := range n.Choices {
		out = append(out, c.Next)
	}
	for _, w := range n.Next {
		out = append(out, w.Go)
	}
	return out
}
