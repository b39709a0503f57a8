package papers

import (
	"encoding/base64"
	"slices"
	"strconv"
	"strings"

	"proofbell/geom"
	"proofbell/internal/drawing"
	"proofbell/internal/estimate"
	"proofbell/internal/words"
	"proofbell/site"
)

// estimates are the documents that stand on models and sums and not on what was seen. They go out when somebody asks for them.
var estimates = []string{"sound-estimate", "radio-estimate", "alarms-wanted", "calculations"}

// Estimate reports whether a document is one of sums and planning estimates: dear to make, and measuring decides.
func (k Kind) Estimate() bool { return slices.Contains(estimates, k.ID) }

// Estimates compute what the documents of planning estimates show, when one is asked for.
type Estimates struct {
	Sound  func() (estimate.SoundView, error)
	Radio  func() (estimate.RadioView, estimate.RadioPlaces)
	Field  func(what, storey string) (estimate.FieldView, error) // what: sound or radio
	Advice func() (Advice, error)
}

// Advice is where alarms would be added.
type Advice struct {
	Label                            string
	Say                              string // how many, and whether fewer would do
	Adds                             []Wanted
	Unmet, Brought, Assumed, Missing []string
}

// Wanted is one alarm that would be added.
type Wanted struct {
	ID, Storey, Room string
	At               [3]float64
	Why              []string
}

// Field is a storey with what was computed over it, or with what is proposed on it.
type Field struct {
	Plan   drawing.Plan        `json:"plan"`
	Field  *estimate.FieldView `json:"field"`  // nil: proposals alone
	Title  string              `json:"title"`  // what is shown: "dBA at the ear"
	Bands  []string            `json:"bands"`  // what each band means, the faintest first
	Line   string              `json:"line"`   // what the line means; "": there is none
	Ghosts []Ghost             `json:"ghosts"` // proposed, not there yet
	Label  string              `json:"label"`  // "Planning estimate. Measure on site."
}

// Ghost is a place of something that is proposed.
type Ghost struct {
	Text string     `json:"text"`
	At   geom.Point `json:"at"`
}

// Cells are the bands of the field, row by row from its lower left corner; 255 for none.
func (f Field) Cells() []byte {
	if f.Field == nil {
		return nil
	}
	raw, _ := base64.StdEncoding.DecodeString(f.Field.Bands) // our own
	return raw
}

func (w *writer) floors() {
	if len(drawing.StoreysIn(w.l, w.s)) == 0 {
		w.lack("survey", w.l.Say("There is no storey yet"))
	}
	w.plans()
}

// estimated opens a document of estimates: what it is, and what it is not.
func (w *writer) estimated(label string, more ...string) {
	w.add(Section{ID: "caution", Own: true, Framed: true, Title: label, Text: append([]string{
		w.l.Say("Computed from the plan and the figures of the devices. It chooses places and says where to measure; it proves nothing, and no level here was heard. Local code and licensed practice decide."),
	}, more...)})
}

// outlined says when there is nothing to compute on.
func (w *writer) outlined() {
	if len(w.s.Rooms) == 0 {
		w.lack("survey", w.l.Say("There is no room yet"))
	}
}

// fields draws what was computed over each storey.
func (w *writer) fields(what, title, line string) {
	l := w.l
	var out []Field
	for _, plan := range drawing.StoreysIn(l, w.s) {
		v, err := w.Estimates.Field(what, plan.Storey)
		if err != nil {
			continue // no room with an outline
		}
		f := Field{Plan: plan, Field: &v, Title: title, Label: v.Label, Bands: []string{}, Ghosts: []Ghost{}}
		for i, from := range v.Steps {
			say := l.Say("from %s", l.Number(from, -1))
			if i == len(v.Steps)-1 {
				say = l.Say("%s and more", l.Number(from, -1))
			}
			f.Bands = append(f.Bands, say)
		}
		if len(v.Contour) > 0 {
			f.Line = line
		}
		out = append(out, f)
	}
	if len(out) > 0 {
		w.add(Section{ID: "fields", Own: true, Title: title, Fields: out})
	}
}

// stands closes a document of estimates with what it rests on.
func (w *writer) stands(assumed, missing []string) {
	if len(missing) > 0 {
		w.add(Section{ID: "unknown", Title: w.l.Say("Not known"), Steps: missing})
	}
	if len(assumed) > 0 {
		w.add(Section{ID: "assumed", Title: w.l.Say("Assumed"), Steps: assumed})
	}
}

func (w *writer) fit(f *estimate.SoundFit, unit string) {
	if f == nil {
		return
	}
	l := w.l
	t := Table{Head: []string{l.Say("Place"), l.Say("Measured"), l.Say("Model"), l.Say("Left over")}, Widths: []float64{90, 28, 28, 28}, Rows: [][]string{}}
	for _, r := range f.Residuals {
		t.Rows = append(t.Rows, []string{r.Say, l.Number(r.Measured, 1) + " " + unit, l.Number(r.Model, 1) + " " + unit, w.signed(&r.Left)})
	}
	w.add(Section{ID: "fit", Title: l.Say("Readings and the model"), Text: []string{f.Say}, Table: &t})
}

// figure writes a figure of an estimate; a dash for what is not determined.
func (w *writer) figure(v *float64, unit string) string {
	if v == nil {
		return "–"
	}
	return w.l.Number(*v, 1) + " " + unit
}

// signed writes a difference in dB with its sign.
func (w *writer) signed(v *float64) string {
	if v == nil {
		return "–"
	}
	text := strings.Replace(w.l.Number(*v, 1), "-", "−", 1)
	if *v > 0 {
		text = "+" + text
	}
	return text + " dB"
}

func (w *writer) sound() {
	l := w.l
	v, err := w.Estimates.Sound()
	if err != nil {
		w.lack("survey", words.Said(err).In(l))
		return
	}
	w.estimated(v.Label, l.Say("All doors are shut, every sounder has its own tone. A room is judged by the group of alarms that is heard least in it."))
	w.fields("sound", l.Say("Level at the ear of one who lies, dBA"), l.Say("where what is required in the room begins"))
	t := Table{
		Head:   []string{l.Say("Room or bed"), l.Say("Level"), l.Say("Required"), l.Say("Margin"), l.Say("Heard from"), l.Say("If that one fails"), l.Say("Estimate says")},
		Widths: []float64{34, 20, 22, 22, 34, 26, 30}, Empty: l.Say("No room yet."), Rows: [][]string{},
	}
	for _, r := range v.Rows {
		name := r.Name
		if r.Bed != "" {
			name = l.Say("%s, bed %s", name, r.Bed)
		}
		fails := "–"
		if r.Without != nil {
			fails = join("\n", w.figure(r.Without.Level, "dBA"), r.Without.Say)
		}
		say := r.Say
		if r.Loud {
			say += "; " + l.Say("too loud when all sound together")
		}
		margin := w.signed(r.Margin)
		if r.Margin != nil && r.Uncertainty > 0 {
			margin += " ± " + l.Number(r.Uncertainty, -1)
		}
		t.Rows = append(t.Rows, []string{join("\n", name, w.s.Storeys[site.StoreyID(r.Storey)].Name), w.figure(r.Level, "dBA"), w.figure(r.Required, "dBA"), margin, dash(r.CarriesSay), fails, join("\n", say, strings.Join(r.Missing, "; "))})
	}
	w.outlined()
	w.add(Section{ID: "rooms", Title: l.Say("Rooms and beds"), Text: []string{v.Label}, Table: &t})
	w.fit(v.Fit, "dBA")
	w.stands(v.Assumed, v.Missing)
}

func (w *writer) radio() {
	l := w.l
	v, places := w.Estimates.Radio()
	if v.Frequency > 0 {
		w.estimated(v.Label, l.Say("%s MHz. Wanted margin %s dB; places that look alike differ by %s dB (standard deviation).", l.Number(v.Frequency, -1), l.Number(v.Wanted, -1), l.Number(v.Shadowing, -1)))
	} else {
		w.estimated(v.Label)
	}
	w.fields("radio", l.Say("Margin of the weakest device, dB"), l.Say("%s dB, what is wanted", l.Number(v.Wanted, -1)))
	t := Table{
		Head:   []string{l.Say("Device"), l.Say("Room"), l.Say("Received by"), l.Say("Margin"), l.Say("Such a place works"), l.Say("Estimate says")},
		Widths: []float64{40, 32, 28, 20, 24, 40}, Empty: l.Say("Nothing here transmits by radio."), Rows: [][]string{},
	}
	for _, r := range v.Rows {
		works := "–"
		if r.Works != nil {
			works = l.Number(100**r.Works, 1) + " %"
			if *r.Works >= 0.9995 {
				works = "> " + l.Number(99.9, 1) + " %" // nothing is certain here
			}
		}
		name := r.Name
		if len(r.Zones) > 0 {
			name = join(" ", strings.Join(r.Zones, ", "), name)
		}
		t.Rows = append(t.Rows, []string{join("\n", name, r.Device), w.s.Rooms[site.RoomID(r.Room)].Name, dash(r.ToSay), w.signed(r.Margin), works, join("\n", r.Say, r.MeasuredSay, strings.Join(r.Missing, "; "))})
	}
	w.outlined()
	w.add(Section{ID: "links", Title: l.Say("Links"), Text: []string{v.Label}, Table: &t})
	if len(places.Places) > 0 || len(places.Unserved) > 0 {
		s := Section{ID: "places", Title: l.Say("Proposed places"), Text: []string{places.Say, v.Label}, Steps: []string{}}
		for _, p := range places.Places {
			s.Steps = append(s.Steps, p.Say)
		}
		if len(places.Unserved) > 0 {
			s.Text = append(s.Text, l.Say("No place helps: %s", strings.Join(places.Unserved, ", ")))
		}
		w.add(s)
	}
	w.fit(v.Fit, "dBm")
	w.stands(v.Assumed, v.Missing)
}

func (w *writer) wanted() {
	l := w.l
	v, err := w.Estimates.Advice()
	if err != nil {
		w.lack("survey", words.Said(err).In(l))
		w.add(Section{ID: "none", Framed: true, Title: said(l, estimate.Label), Text: []string{words.Said(err).In(l)}})
		return
	}
	w.outlined()
	w.estimated(v.Label, l.Say("A place may be impossible for reasons that no plan shows: look at each on site."))
	var fields []Field
	for _, plan := range drawing.StoreysIn(l, w.s) {
		f := Field{Plan: plan, Title: l.Say("Broken circles are proposed: nothing hangs there yet"), Label: v.Label, Bands: []string{}, Ghosts: []Ghost{}}
		for i, a := range v.Adds {
			if a.Storey == plan.Storey {
				f.Ghosts = append(f.Ghosts, Ghost{strconv.Itoa(i + 1), geom.Point{X: a.At[0], Y: a.At[1]}})
			}
		}
		if len(f.Ghosts) > 0 {
			fields = append(fields, f)
		}
	}
	if len(fields) > 0 {
		w.add(Section{ID: "fields", Own: true, Title: l.Say("Proposed places"), Fields: fields})
	}
	t := Table{Head: []string{"", l.Say("Alarm"), l.Say("Room"), l.Say("Place x / y / z"), l.Say("Why")}, Widths: []float64{6, 22, 34, 32, 90}, Empty: l.Say("Nothing is proposed."), Rows: [][]string{}, Key: 1}
	for i, a := range v.Adds {
		var place []string
		for _, m := range a.At {
			place = append(place, w.coordinate(m))
		}
		t.Rows = append(t.Rows, []string{strconv.Itoa(i + 1), a.ID, a.Room, strings.Join(place, " / "), strings.Join(a.Why, "\n")})
	}
	w.add(Section{ID: "adds", Title: l.Say("To add"), Text: []string{v.Say, v.Label}, Table: &t})
	if len(v.Unmet) > 0 {
		w.add(Section{ID: "unmet", Title: l.Say("Stays open"), Steps: v.Unmet})
	}
	if len(v.Brought) > 0 {
		w.add(Section{ID: "brought", Title: l.Say("Comes with them"), Steps: v.Brought})
	}
	w.stands(v.Assumed, v.Missing)
}

func dash(text string) string {
	if text == "" {
		return "–"
	}
	return text
}
