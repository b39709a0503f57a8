package records_test

import (
	"bytes"
	"encoding/base64"
	"os/exec"
	"strings"
	"testing"
	"time"

	"proofbell/evidence"
	"proofbell/internal/book"
	"proofbell/internal/estimate"
	"proofbell/internal/papers"
	"proofbell/internal/records"
	"proofbell/internal/words"
	"proofbell/site"
)

const planning = "Planning estimate. Measure on site."

const cottage = `
format: proofbell.site/1
name: A cottage
storeys: {g: {name: Ground floor, level: 0, ceiling: 2.5}}
rooms:
  H: {name: Hall, storey: g, outline: [[0, 0], [8, 0], [8, 2], [0, 2]], use: hall}
  A: {name: East, storey: g, outline: [[0, 2], [4, 2], [4, 6], [0, 6]], use: bedroom}
  B: {name: West, storey: g, outline: [[4, 2], [8, 2], [8, 6], [4, 6]], use: bedroom}
heads: {M1: {kind: smoke, room: H, at: [4, 1, 2.5]}}
`

// estimated is a document of the cottage with figures that no model made, so that it changes by its own making only.
func estimated(t *testing.T, kind, lang string) papers.Paper {
	t.Helper()
	s, err := site.DecodeYAML("cottage", []byte(cottage))
	if err != nil {
		t.Fatal(err)
	}
	of, _ := papers.Find(kind)
	state := book.New("")
	state.Site = s
	file := evidence.Hash{}
	n := func(v float64) *float64 { return &v }
	label := words.In(lang).Word(estimate.Label)
	// 8 by 6 m in cells of 1 m: a band a column of two.
	cells := make([]byte, 48)
	for i := range cells {
		cells[i] = byte(i % 8 / 2)
	}
	return papers.Make(of, papers.Job{
		State: state, Lang: words.In(lang), Zone: time.UTC, Day: noon, File: &file,
		Estimates: papers.Estimates{
			Sound: func() (estimate.SoundView, error) {
				return estimate.SoundView{
					Label: label, Assumed: []string{"Alarms without a tone are taken to sound at 3.1 kHz."}, Missing: []string{"Bell box: its level is not given"},
					Rows: []estimate.SoundRow{
						{Room: "A", Name: "East", Storey: "g", Bed: "1", Sleeping: true, Level: n(67.8), Required: n(75), Margin: n(-7.2), Uncertainty: 6, Verdict: estimate.TooLittle, Say: "too little", CarriesSay: "M1 in Hall", Without: &estimate.SoundWithout{Level: n(0), Say: "too little"}},
						{Room: "B", Name: "West", Storey: "g", Verdict: estimate.NotDetermined, Say: "not determined", Missing: []string{"outline or storey of the room"}},
						{Room: "H", Name: "Hall", Storey: "g", Level: n(97.6), Required: n(65), Margin: n(32.6), Loud: true, Verdict: estimate.Enough, Say: "enough (measured: 97.6 dBA)", CarriesSay: "M1 in Hall"},
					},
					Fit: &estimate.SoundFit{Readings: 3, Say: "Fitted to 3 readings.", Residuals: []estimate.FitResidual{{Say: "East, bed 1", Measured: 68.5, Model: 67.8, Left: 0.7}}},
				}, nil
			},
			Radio: func() (estimate.RadioView, estimate.RadioPlaces) {
				return estimate.RadioView{Label: label, Frequency: 868, Wanted: 15, Shadowing: 8, Rows: []estimate.RadioRow{
					{Device: "far", Name: "Door contact", Zones: []string{"07"}, Room: "B", ToSay: "the panel", Margin: n(6.4), Works: n(0.788), Say: "doubtful", MeasuredSay: "measured: 4 dB"},
					{Device: "near", Name: "Smoke detector", Room: "H", ToSay: "the panel", Margin: n(44), Works: n(1), Say: "enough"},
				}}, estimate.RadioPlaces{
					Label: label, Say: "Links that are short: 1. Needed for them: 1, fewer do not do. Places tried: 96.", Places: []estimate.RadioPlace{{Device: "repeater", Say: "Hall, at 5.0, 1.0, 2.2 m: margin 21 dB"}}, Unserved: []string{"gate"},
				}
			},
			Field: func(what, storey string) (estimate.FieldView, error) {
				return estimate.FieldView{
					What: what, Storey: storey, Step: 1, W: 8, H: 6, Bands: base64.StdEncoding.EncodeToString(cells), Steps: []float64{55, 65, 75, 85}, Unit: "dBA", Label: label,
					Contour: []estimate.Contour{{Value: 75, Line: [][2]float64{{4, 0.1}, {4, 2}, {4.2, 5.9}}}},
				}, nil
			},
			Advice: func() (papers.Advice, error) {
				return papers.Advice{
					Label: label, Say: "To add: 2.", Unmet: []string{"smoke detection on Attic: no place"}, Brought: []string{"Group M: two kinds"},
					Adds: []papers.Wanted{{ID: "M2", Storey: "g", Room: "East", At: [3]float64{2, 4, 2.5}, Why: []string{"smoke detection in East, where someone sleeps", "the alarm heard at bed 1 in East"}}, {ID: "M3", Storey: "g", Room: "Hall", At: [3]float64{4, 1, 2.5}, Why: []string{"radio margin about 21 dB"}}},
				}, nil
			},
		},
	})
}

// Documents of estimates, word for word; every drawing and every table says what its figures are worth.
func TestGoldenEstimates(t *testing.T) {
	for name, marked := range map[string]int{"sound-estimate.en": 3, "sound-estimate.de": 0, "radio-estimate.en": 4, "alarms-wanted.en": 3, "floor-plans.en": 0} {
		kind, lang, _ := strings.Cut(name, ".")
		p := estimated(t, kind, lang)
		golden(t, name, p)
		raw, err := records.PDF(p, records.Options{Sheet: "Letter"})
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Count(strings.Join(read(t, raw), "\n"), planning); got != marked {
			t.Errorf("%s is called an estimate %d times of %d", name, got, marked)
		}
	}
}

// What a copier without greys makes of a field: every band still has ink, and the more the stronger the band.
func TestRulingsOutliveACopier(t *testing.T) {
	pdftoppm, err := exec.LookPath("pdftoppm")
	if err != nil {
		t.Skip("pdftoppm (poppler-utils) is not installed: the document is not looked at")
	}
	paper := estimated(t, "sound-estimate", "en")
	before := 0
	for band := range 4 {
		// One band over the whole storey, with nothing else drawn.
		p := paper
		for _, section := range paper.Sections {
			if len(section.Fields) == 0 {
				continue
			}
			f := section.Fields[0]
			v := *f.Field
			v.Bands, v.Contour, f.Field = strings.Repeat([]string{"AAAA", "AQEB", "AgIC", "AwMD"}[band], (v.W*v.H+2)/3), nil, &v // three cells at a time
			if len(f.Cells()) != v.W*v.H {
				t.Fatalf("%d cells of %d by %d", len(f.Cells()), v.W, v.H)
			}
			p.Sections = []papers.Section{{ID: "fields", Fields: []papers.Field{f}}}
		}
		raw, err := records.PDF(p, records.Options{})
		if err != nil {
			t.Fatal(err)
		}
		cmd := exec.Command(pdftoppm, "-r", "100", "-gray", "-singlefile", "-")
		cmd.Stdin = bytes.NewReader(raw)
		out, err := cmd.Output()
		if err != nil {
			t.Fatal(err)
		}
		dark := 0
		for _, grey := range out[bytes.Index(out, []byte("\n255\n"))+5:] {
			if grey < 190 { // all fainter greys are lost
				dark++
			}
		}
		if band > 0 && dark < before+before/20 {
			t.Errorf("band %d has %d dark pixels, the one below %d", band, dark, before)
		}
		before = dark
	}
}
