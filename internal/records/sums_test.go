package records_test

import (
	"strings"
	"testing"
	"time"

	"proofbell/evidence"
	"proofbell/internal/book"
	"proofbell/internal/papers"
	"proofbell/internal/records"
	"proofbell/internal/words"
	sums "proofbell/internal/worked"
	"proofbell/site"
)

// reviewed is the document of one sheet that no calculation made, so that it changes by its own making only.
func reviewed(t *testing.T, lang, supply string) papers.Paper {
	t.Helper()
	of, ok := papers.Find("calculations")
	if !ok {
		t.Fatal("there is no such document")
	}
	picture := sums.Picture{Title: "Circuit", Say: "Two devices on one line.", Width: 800, Height: 200}
	picture.Line(3, [2]float64{50, 100}, [2]float64{400, 100}, [2]float64{750, 100}).Dashed = true
	picture.Line(1, [2]float64{50, 20}, [2]float64{50, 180}).Tone = "soft"
	picture.Line(3, [2]float64{750, 20}, [2]float64{750, 90}).Arrow = true
	picture.Box(6, 380, 80, 40, 40).Filled = true
	picture.Write(400, 60, 28, "middle", "B1 10.10 V").Bold = true
	sheet := sums.Sheet{
		ID: "drop.bells", Title: "Voltage drop: Bells", Label: "Arithmetic on what is given.", Result: "bell gets 10.10 V and needs 9 V.",
		Inputs: []sums.Input{{Name: "Supply voltage", Sign: "Vₛ", Say: supply, At: "/circuits/bells/supply", From: "typed"}, {Name: "Inner resistance", Sign: "Rᵢ"}},
		Steps: []sums.Step{
			{Name: "Voltage at Bell", Formula: "5.3d", Says: "V = V(panel) − 2 L r' I", Put: "10.500 V − 0.9949 ohm · 0.400 A", Say: "10.10 V", Source: "physics", Confidence: sums.High},
			{Name: "Panel", Formula: "7.1", Says: "U = 1 - (1 - e⁻ˣ)/x, x = λ T", Put: "λ = 0.22·10⁻⁶/h, T = 8760 h", Say: "0.02 % to 0.4 %"},
		},
		Pictures: []sums.Picture{picture}, Missing: []string{"the inner resistance"}, Assumed: []string{"75 °C, the copper at its warmest"}, Cautions: []string{"Measure at the last device."},
	}
	file, state := evidence.Hash{}, book.New("")
	state.Site = &site.Site{Format: site.Format, Name: "A cottage"}
	return papers.Make(of, papers.Job{State: state, Lang: words.In(lang), Zone: time.UTC, Day: noon, File: &file, Sums: func(bool) []papers.Section { return []papers.Section{papers.OfSum(sheet)} }})
}

// Word for word: everything that a reviewer needs stands on the sheet.
func TestGoldenSheets(t *testing.T) {
	golden(t, "calculations.en", reviewed(t, "en", "10.5 V"))
	golden(t, "calculations.de", reviewed(t, "de", "10.5 V"))
}

// The next issue tells which input is another.
func TestChangedInputsAreTold(t *testing.T) {
	l := words.In("en")
	list := papers.Changes(l, reviewed(t, "en", "10.5 V"), reviewed(t, "en", "11 V"))
	if len(list) != 1 || list[0].String() != "Voltage drop: Bells, Supply voltage: 11 V, before: 10.5 V" {
		t.Errorf("%v", list)
	}
}

// The sheets of the practice house, whole: each with its sum, none of it lost between page and paper.
func TestSheetsOfAHouse(t *testing.T) {
	k := worked(t)
	for kind, want := range map[string][]string{
		"calculations":  {"Standby battery of the panel", "Voltage drop: Bell box and inside sounders", "Supervised input: Workshop key switch", "Batteries of the radio devices", "How a fire becomes known", "Reach of a fire in", "charge left, of what the battery holds"},
		"commissioning": {"Standby battery of the panel", "Voltage drop: Bell box and inside sounders", "Supervised input: Workshop key switch"},
	} {
		p := k.paper(kind, "en", "")
		raw, err := records.PDF(p, records.Options{})
		if err != nil {
			t.Fatal(err)
		}
		text := strings.Join(read(t, raw), "\n")
		for _, s := range want {
			if !strings.Contains(text, s) {
				t.Errorf("%s lacks %q", kind, s)
			}
		}
		for _, s := range p.Sections {
			if s.Sum == nil {
				continue
			}
			for _, st := range s.Sum.Steps {
				if st.Formula == "" || !strings.Contains(text, "formula "+st.Formula) {
					t.Errorf("%s: %s has no number of its formula", s.Title, st.Name)
				}
			}
		}
	}
}
