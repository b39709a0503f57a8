package estimate

import (
	"encoding/json"
	"math"

	"proofbell/geom"
	"proofbell/internal/words"
	"proofbell/quantity"
	"proofbell/radio"
	"proofbell/site"
)

// RadioView says how every radio device reaches the panel. A planning estimate.
type RadioView struct {
	Label     string     `json:"label"`
	Frequency float64    `json:"frequency"` // MHz
	Wanted    float64    `json:"wanted"`    // margin, dB
	Shadowing float64    `json:"shadowing"` // standard deviation, dB
	Rows      []RadioRow `json:"rows"`      // devices in natural order
	Assumed   []string   `json:"assumed"`
	Missing   []string   `json:"missing"` // without which no link can be determined
	Fit       *SoundFit  `json:"fit"`     // what measured levels made of the model; null: too few were measured

	Readings []ReadingRow `json:"readings"` // all that were entered and not taken away, oldest first
}

// RadioRow is one device.
type RadioRow struct {
	Device      string      `json:"device"`
	Name        string      `json:"name"` // of its model
	Zones       []string    `json:"zones"`
	Room        string      `json:"room"`
	At          *[3]float64 `json:"at"`
	Margin      *float64    `json:"margin"`   // of its weakest hop, dB; null: not determined
	Received    *float64    `json:"received"` // dBm at the receiver that hears it best
	Verdict     Verdict     `json:"verdict"`  // by measured levels where there are such
	Say         string      `json:"say"`      // the verdict in words
	To          string      `json:"to"`       // JSON pointer of that receiver; empty: not determined
	ToSay       string      `json:"toSay"`
	Hops        []RadioHop  `json:"hops"`
	Works       *float64    `json:"works"` // probability that such a placement works, 0 to 1
	Fades       *float64    `json:"fades"` // share of places within a hand's breadth, or of moments with people about, in which the weakest hop is cut
	False       *float64    `json:"false"` // reported lost for nothing, times a year; null: see FalseSay
	FalseSay    string      `json:"falseSay"`
	Measured    *float64    `json:"measured"` // margin by the newest level measured on the link itself, dB
	MeasuredSay string      `json:"measuredSay"`
	Missing     []string    `json:"missing"`
	Terms       []Term      `json:"terms"` // beyond those of the hops
}

// RadioHop is one radio way of a device.
type RadioHop struct {
	From   string        `json:"from"` // JSON pointers
	To     string        `json:"to"`
	ToSay  string        `json:"toSay"`
	Line   [2][3]float64 `json:"line"`
	Margin float64       `json:"margin"`
	Say    string        `json:"say"` // the sum, in a line
	Terms  []Term        `json:"terms"`
}

// RadioPlaces proposes where repeaters or second receivers go. A planning estimate.
type RadioPlaces struct {
	Label    string          `json:"label"`
	Wired    bool            `json:"wired"`
	Say      string          `json:"say"` // what is proposed, and how good that is
	Places   []RadioPlace    `json:"places"`
	AtLeast  int             `json:"atLeast"`  // with fewer it can not be done; proved
	Unserved []string        `json:"unserved"` // devices that no place helps
	Assumed  []string        `json:"assumed"`
	Missing  []string        `json:"missing"`
	Patch    json.RawMessage `json:"patch"` // adds them to the site; null: nothing is proposed
}

// RadioPlace is one proposal.
type RadioPlace struct {
	Device string     `json:"device"` // id that the patch gives it
	Room   string     `json:"room"`
	Storey string     `json:"storey"`
	At     [3]float64 `json:"at"`
	Serves []string   `json:"serves"` // devices that it carries
	Margin float64    `json:"margin"` // of the weakest of them, dB
	Back   *float64   `json:"back"`   // its own margin to the panel, dB; null: by wire
	Say    string     `json:"say"`
}

func pointerOf(id site.DeviceID) string {
	if id == "" {
		return "/panel"
	}
	return "/devices/" + string(id) // ids hold no character that a pointer escapes
}

func sayReceiver(lang *words.Language, id site.DeviceID) string {
	if id == "" {
		return lang.Say("the panel")
	}
	return string(id)
}

func xyz(p geom.Point3) [3]float64 { return [3]float64{p.X, p.Y, p.Z} }

func said(lang *words.Language, texts []words.Text) []string {
	out := make([]string, 0, len(texts))
	for _, t := range texts {
		out = append(out, words.Upper(t.In(lang)))
	}
	return out
}

// Notes are what was assumed, and what is missing for all links.
func (r *Radio) Notes(lang *words.Language) (assumed, missing []string) {
	return append(said(lang, r.Assumed), r.b.Assumptions(lang)...), append(said(lang, r.Missing), r.b.LeftOut(lang)...)
}

// View says all of it in a language.
func (r *Radio) View(lang *words.Language) RadioView {
	v := RadioView{Label: lang.Word(Label), Frequency: float64(r.Frequency) / 1e6, Wanted: r.Wanted, Shadowing: r.Sigma, Rows: []RadioRow{}}
	zones := map[site.DeviceID][]string{}
	for _, z := range site.SortedIDs(r.site.Zones) {
		d := r.site.Zones[z].Device
		zones[d] = append(zones[d], string(z))
	}
	for _, l := range r.Links {
		v.Rows = append(v.Rows, r.row(lang, l, append([]string{}, zones[l.Device]...)))
	}
	v.Assumed, v.Missing = r.Notes(lang)
	if f := r.Fit; f != nil {
		v.Fit = f.view(lang)
	}
	return v
}

func (r *Radio) row(lang *words.Language, l RadioLink, zones []string) RadioRow {
	d := r.site.Devices[l.Device]
	m, _ := r.site.ModelOf(l.Device)
	row := RadioRow{
		Device: string(l.Device), Name: m.Name, Zones: zones, Room: string(d.Room), Verdict: l.Verdict, Say: l.Verdict.In(lang), Hops: []RadioHop{},
		Missing: said(lang, l.Missing), Terms: []Term{}, FalseSay: l.FalseWhy.In(lang),
	}
	at, _, placed := r.b.Place(d.At, d.Room)
	if placed {
		p := xyz(at)
		row.At = &p
	}
	if l.Measured != nil {
		row.Measured = l.Measured
		row.MeasuredSay = lang.Say("Measured: margin %s dB", lang.Number(*l.Measured, -1))
	}
	if l.False != nil {
		f := math.Round(*l.False*10) / 10
		row.False = &f
		row.FalseSay = lang.Say("%s times a year, from a measured loss of %s %% of its check-ins", lang.Number(f, -1), lang.Number(math.Round(l.Watched.Lost*1000)/10, -1))
	}
	if len(l.Hops) == 0 {
		return row
	}
	row.Margin, row.Received, row.Works = &l.Margin, &l.Hops[0].Received, &l.Works
	row.To, row.ToSay = pointerOf(l.Hops[0].To), sayReceiver(lang, l.Hops[0].To)
	for _, h := range l.Hops {
		to := r.Receivers[0]
		for _, one := range r.Receivers {
			if one.Device == h.To {
				to = one
			}
		}
		row.Hops = append(row.Hops, RadioHop{
			From: pointerOf(h.From), To: pointerOf(h.To), ToSay: sayReceiver(lang, h.To), Line: [2][3]float64{xyz(at), xyz(to.At)}, Margin: h.Margin,
			Say: h.Sum(lang, sayReceiver(lang, h.To)), Terms: h.Terms(lang),
		})
		at = to.At
	}
	works := math.Round(l.Works*1000) / 1000
	row.Works = &works
	if fades, err := radio.Fading(quantity.DB(l.Margin)); err == nil {
		fades = math.Round(fades*1000) / 1000
		row.Fades = &fades
	}
	row.Terms = append(row.Terms,
		Term{lang.Say("such a placement works"), works, "", "Phi(M / sigma)", lang.Say("log-normal shadowing, sigma %s dB; of the place, once and for months", lang.Number(r.Sigma, -1))},
		Term{lang.Say("cut by small movements"), *row.Fades, "", "1 - exp(-10^(-M/10))", lang.Say("Rayleigh fading, no line of sight")})
	if l.False != nil {
		row.Terms = append(row.Terms, Term{
			lang.Say("reported lost for nothing"), *row.False, lang.Say("a year"), "8760 h / interval / ((q^-k - 1) / (1 - q))",
			lang.Say("Feller, runs of failures; q measured, k %d check-ins of %s s", l.Watched.Misses, lang.Number(float64(l.Watched.Every), -1)),
		})
	}
	return row
}

func (f *RadioFit) view(lang *words.Language) *SoundFit {
	two := func(x float64) float64 { return math.Round(x*100) / 100 }
	v := &SoundFit{Readings: len(f.Levels), Spread: round1(float64(f.Sigma)), Residuals: []FitResidual{}, Parameters: []FitRow{
		{lang.Say("offset of all levels"), round1(float64(f.Offset)), round1(float64(f.OffsetFrom[0])), round1(float64(f.OffsetFrom[1])), "dB"},
	}}
	if f.FactorFrom[0] != f.FactorFrom[1] {
		v.Parameters = append(v.Parameters, FitRow{lang.Say("factor of walls and floors"), two(f.Factor), two(f.FactorFrom[0]), two(f.FactorFrom[1]), ""})
	}
	for i, l := range f.Levels {
		v.Residuals = append(v.Residuals, FitResidual{l.Entry, lang.Say("%s at %s", l.Device, sayReceiver(lang, l.To)), l.DBm, f.Model[i], round1(float64(f.Left[i]))})
	}
	v.Say = lang.Say("Fitted to %d measured levels; they differ from the model by %s dB.", v.Readings, lang.Number(v.Spread, -1))
	return v
}

// View says a placement in a language.
func (p Placement) View(lang *words.Language, r *Radio) RadioPlaces {
	v := RadioPlaces{Label: lang.Word(Label), Wired: p.Wired, Places: []RadioPlace{}, AtLeast: p.AtLeast, Unserved: []string{}, Patch: json.RawMessage(p.Patch)}
	v.Assumed, v.Missing = r.Notes(lang)
	v.Assumed = append(said(lang, p.Assumed), v.Assumed...)
	for _, id := range p.Unserved {
		v.Unserved = append(v.Unserved, string(id))
	}
	for _, s := range p.Spots {
		room, _ := r.b.RoomOf(s.Room)
		one := RadioPlace{Device: string(s.Device), Room: string(s.Room), Storey: string(r.b.Storeys[r.b.Rooms[room].Storey].ID), At: xyz(s.At), Margin: s.Worst, Serves: []string{}}
		for _, id := range s.Serves {
			one.Serves = append(one.Serves, string(id))
		}
		one.Say = lang.Say("%s, at %s, %s, %s m: margin %[6]s dB or more for the %[5]d devices that it carries", r.b.Rooms[room].Name, lang.Number(s.At.X, 1), lang.Number(s.At.Y, 1), lang.Number(s.At.Z, 1), len(s.Serves), lang.Number(s.Worst, -1))
		if !math.IsInf(s.Back, 1) {
			back := s.Back
			one.Back = &back
			one.Say += lang.Say("; its own margin to the panel is %s dB", lang.Number(back, -1))
		}
		v.Places = append(v.Places, one)
	}
	switch n := len(p.Spots); {
	case len(p.Short) == 0:
		v.Say = lang.Say("No link is short of the wanted margin: nothing is proposed.")
	case n == 0:
		v.Say = lang.Say("Links that are short: %d. No place in the rooms of the plan helps them.", len(p.Short))
	case p.AtLeast == n:
		v.Say = lang.Say("Links that are short: %d. Needed for them: %d, fewer do not do. Places tried: %d.", len(p.Short)-len(p.Unserved), n, p.Tried)
	default:
		v.Say = lang.Say("Links that are short: %d. Found for them: %d, at least %d are needed. Places tried: %d.", len(p.Short)-len(p.Unserved), n, p.AtLeast, p.Tried)
	}
	return v
}
