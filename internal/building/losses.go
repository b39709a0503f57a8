package building

import (
	"math"
	"strings"

	"proofbell/internal/words"
)

// Loss is what one passage through something takes off.
type Loss struct {
	Name       words.Text // what it is
	Known      bool       // otherwise the figures mean nothing: the result is "not determined", and Source says what is missing
	DB         float64    // for planning: the site's own figure, else the upper end of the usual range, the one that gives less comfort
	Low, High  float64    // range of usual constructions; both DB when the site gives its own
	Source     words.Text
	Confidence string // "own" for the site's own figure; else as the reference grades it: H, M, L
}

// usual is one usual construction with what it takes off. A range below zero is not known.
type usual struct {
	name       string
	sound      [2][2]float64 // near 520 Hz and near 3 kHz
	soundFrom  string        // M: usual figures; L: with the reason
	radio      [3][2]float64 // 315 to 433, 868 to 915, 2400 MHz
	radioFrom  string
	soundGrade string
	radioGrade string
}

var (
	none       = [2]float64{-1, -1}
	figures    = words.Mark("usual figures of textbooks, at the upper end of their range; measure on site")
	concreteBy = words.Mark("the figures of 0.15 m concrete stand for it; measure on site")
	glassBy    = words.Mark("the figures of plain glass stand for it; measure on site")
	timberBy   = words.Mark("the figures of a timber door stand for it; measure on site")
	blockedBy  = words.Mark("counts as blocked unless tried on site")
)

// usuals are the words of the site member as. Sound: reduction index by usual textbook figures in the two bands that alarms use.
// Radio: one passage, for planning. Both are ranges of published figures that no single document fixes.
var usuals = map[string]usual{
	"stud-wall":           {words.Mark("stud wall, plasterboard on both sides"), [2][2]float64{{30, 35}, {33, 38}}, figures, [3][2]float64{{1, 2}, {2, 3}, {3, 4}}, figures, "M", "M"},
	"filled-stud-wall":    {words.Mark("stud wall, plasterboard on both sides, filled"), [2][2]float64{{38, 42}, {38, 45}}, figures, [3][2]float64{{1, 2}, {2, 3}, {3, 4}}, figures, "M", "M"},
	"brick":               {words.Mark("0.1 m brick, plastered"), [2][2]float64{{38, 42}, {52, 56}}, figures, [3][2]float64{{3, 5}, {3, 6}, {5, 8}}, figures, "M", "M"},
	"masonry":             {words.Mark("cavity brick or 0.2 m block"), [2][2]float64{{46, 50}, {58, 62}}, concreteBy, [3][2]float64{{5, 10}, {8, 14}, {12, 20}}, figures, "L", "M"},
	"concrete":            {words.Mark("0.1 to 0.15 m concrete"), [2][2]float64{{46, 50}, {58, 62}}, figures, [3][2]float64{{4, 11}, {5, 13}, {8, 20}}, figures, "M", "M"},
	"reinforced-concrete": {words.Mark("0.2 m reinforced concrete"), [2][2]float64{{46, 50}, {58, 62}}, concreteBy, [3][2]float64{{10, 20}, {20, 27}, {25, 40}}, figures, "L", "M"},
	"timber-floor":        {words.Mark("timber floor with a ceiling below"), [2][2]float64{{33, 38}, {40, 48}}, figures, [3][2]float64{{4, 8}, {6, 10}, {10, 14}}, figures, "M", "M"},
	"concrete-floor":      {words.Mark("concrete floor"), [2][2]float64{{46, 50}, {58, 62}}, concreteBy, [3][2]float64{{12, 18}, {15, 20}, {18, 25}}, figures, "L", "M"},
	"hollow-door":         {words.Mark("hollow door without seals"), [2][2]float64{{12, 16}, {15, 20}}, figures, [3][2]float64{{1, 2}, {2, 3}, {3, 4}}, figures, "M", "M"},
	"solid-door":          {words.Mark("solid door without seals"), [2][2]float64{{18, 22}, {20, 25}}, figures, [3][2]float64{{1, 2}, {2, 3}, {3, 4}}, figures, "M", "M"},
	"fire-door":           {words.Mark("fire door with seals"), [2][2]float64{{25, 30}, {28, 33}}, figures, [3][2]float64{{1, 2}, {2, 3}, {3, 4}}, timberBy, "M", "L"},
	"steel-door":          {words.Mark("steel door"), [2][2]float64{none, none}, "", [3][2]float64{none, none, none}, blockedBy, "", ""},
	"glass":               {words.Mark("single 4 mm glass"), [2][2]float64{{26, 29}, {26, 30}}, figures, [3][2]float64{{0, 1}, {1, 2}, {2, 3}}, figures, "M", "M"},
	"coated-glass":        {words.Mark("coated glazing"), [2][2]float64{{26, 29}, {26, 30}}, glassBy, [3][2]float64{{15, 30}, {25, 30}, {25, 35}}, figures, "L", "M"},
	"foil-board":          {words.Mark("foil-faced board"), [2][2]float64{none, none}, "", [3][2]float64{{20, 30}, {20, 35}, {25, 40}}, figures, "", "M"},
	"metal-lath":          {words.Mark("plaster on metal lath"), [2][2]float64{none, none}, "", [3][2]float64{{10, 20}, {10, 20}, {12, 25}}, figures, "", "M"},
	"sheet-metal":         {words.Mark("sheet metal"), [2][2]float64{none, none}, "", [3][2]float64{none, none, none}, blockedBy, "", ""},
}

// Construction says a word of the site member as in plain words.
func Construction(as string) words.Text {
	if u, ok := usuals[as]; ok {
		return words.Later(u.name)
	}
	return words.Typed(as)
}

// The bands, in Hz and MHz, for which the columns of the tables stand. Between them it goes by the logarithm of the
// frequency; a little beyond the first and the last their own figures hold.
var (
	soundAt = [][2]float64{{520, 520}, {3000, 3000}}
	radioAt = [][2]float64{{315, 433}, {868, 915}, {2400, 2400}}
)

// SoundLoss returns the sound reduction index of what something is made of, at a frequency in Hz. Through a building no
// more than about 45 dB is had, whatever the wall: that cap is the caller's.
func (b *Building) SoundLoss(m Made, hz float64) Loss {
	own := b.site.Materials[m.Material].SoundLoss
	u := usuals[m.As]
	return b.loss(m, !own.IsZero(), own.SI(), u.sound[:], soundAt, 400, 4000, hz, u.soundFrom, u.soundGrade, words.Mark("sound reduction"))
}

// RadioLoss returns what one passage takes off a radio signal at a frequency in MHz.
func (b *Building) RadioLoss(m Made, mhz float64) Loss {
	own := b.site.Materials[m.Material].RadioLoss
	u := usuals[m.As]
	return b.loss(m, !own.IsZero(), own.SI(), u.radio[:], radioAt, 300, 2500, mhz, u.radioFrom, u.radioGrade, words.Mark("radio loss"))
}

func (b *Building) loss(m Made, has bool, own float64, ranges, at [][2]float64, from, to, f float64, source, grade, what string) Loss {
	l := Loss{Name: Construction(m.As)}
	if material, ok := b.site.Materials[m.Material]; ok {
		l.Name = words.Typed(material.Name)
	}
	switch {
	case m.Open:
		l.Known, l.Source, l.Confidence = true, words.Later("open: nothing is in the way"), "H"
	case has && !(own >= 0):
		l.Source = words.Later("%s: a %s below 0 dB would be a gain; give it without the sign", l.Name, words.Later(what))
	case has:
		l.Known, l.DB, l.Low, l.High = true, own, own, own
		l.Source, l.Confidence = words.Later("as the site file gives it"), "own"
	case m.As == "":
		l.Source = words.Later("%s: no %s is given, and no usual construction either; give one of them", l.Name, words.Later(what))
	case ranges[0][0] < 0 && source != "":
		l.Source = words.Later("%s: %s; then give the material its own figure", l.Name, words.Later(source))
	case ranges[0][0] < 0:
		l.Source = words.Later("%s: no usual %s is known; give the material its own", l.Name, words.Later(what))
	case !(f >= from && f <= to):
		l.Source = words.Later("%s: no usual %s is known at this frequency; give the material its own", l.Name, words.Later(what))
	default:
		l.Known, l.Confidence = true, grade
		l.Low, l.High = readAt(at, ranges, 0, f), readAt(at, ranges, 1, f)
		l.DB = l.High
		l.Source = words.Later("%s: %s", Construction(m.As), words.Later(source))
	}
	return l
}

// readAt reads a table at a frequency and rounds to a tenth.
func readAt(at, ranges [][2]float64, end int, f float64) float64 {
	for i, band := range at {
		if f <= band[1] {
			if i == 0 || f >= band[0] {
				return ranges[i][end]
			}
			below := at[i-1][1]
			share := math.Log(f/below) / math.Log(band[0]/below)
			return math.Round(10*(ranges[i-1][end]+share*(ranges[i][end]-ranges[i-1][end]))) / 10
		}
	}
	return ranges[len(at)-1][end]
}

// Assumptions says what was assumed, in a language, for a result that rests on it.
func (b *Building) Assumptions(lang *words.Language) []string { return said(lang, b.Assumed) }

// LeftOut says what could not be taken into account, in a language.
func (b *Building) LeftOut(lang *words.Language) []string { return said(lang, b.Left) }

func said(lang *words.Language, texts []words.Text) []string {
	out := make([]string, 0, len(texts))
	for _, t := range texts {
		out = append(out, strings.TrimSpace(t.In(lang)))
	}
	return out
}
