package supply_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"proofbell/demo"
	"proofbell/internal/supply"
	"proofbell/internal/words"
	"proofbell/internal/worked"
	"proofbell/quantity"
	"proofbell/site"
)

var (
	day   = time.Date(2026, 9, 15, 0, 0, 0, 0, time.UTC)
	least = supply.Least{Standby: 24 * 3600, Alarm: 240, Ageing: 1.25, Name: "demo", Source: "NFPA 72 2007, 11.6.2"}
)

func read(t *testing.T, raw []byte) *site.Site {
	t.Helper()
	s, err := site.DecodeYAML("site.yaml", raw)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// Fault 16 of the practice building: 24 x 0.36 + 8/60 x 1.30 = 8.81 Ah, x 1.25 = 11.0; the draft counts 4 min: 8.73 and 10.9.
func TestDraftOfTheMill(t *testing.T) {
	s := read(t, demo.Draft)
	v := supply.Of(s, least, day, nil).View()
	if v.Verdict != "short" || v.Needed == nil || *v.Needed != 11.0 || *v.Fitted != 7 {
		t.Errorf("%s: %v of %v", v.Verdict, v.Fitted, v.Needed)
	}
	if last := step(v.Sheet, "5.2a"); math.Abs(last.Value-8.8133) > 1e-4 {
		t.Errorf("drawn %v", last.Value)
	}
	s.Settings.FireSounder = quantity.Duration{}
	if v := supply.Of(s, least, day, nil).View(); *v.Needed != 10.9 {
		t.Errorf("4 min: %v Ah", *v.Needed)
	}
	// what the models draw is what the sum counts: 0.14 + 0.10 + 2 x 0.045 + 0.010 + 2 x 0.010 = 0.36; 0.18 + 0.16 + 0.12 + 0.40 + 0.44 = 1.30
	if !strings.Contains(v.LoadsSay, "0.36 A at rest and 1.30 A in alarm") || strings.Contains(v.LoadsSay, "differ") {
		t.Error(v.LoadsSay)
	}
	best := ""
	for _, c := range v.Cells {
		if c.Best {
			best = c.ID
		}
	}
	if best != "b12" {
		t.Errorf("%q is said to fit: %+v", best, v.Cells)
	}
}

func TestWhatTheDutySays(t *testing.T) {
	s := read(t, demo.Draft)
	s.Power.Duty, s.Settings.FireSounder = "fire-24", quantity.Duration{}
	// 1.25 (8.64 + 0.65) = 11.61, /20 = 0.58 A < 1.30 A: D 1.75: 1.25 (8.64 + 1.1375) = 12.2
	if v := supply.Of(s, least, day, nil).View(); *v.Needed != 12.2 {
		t.Errorf("British practice: %v Ah", *v.Needed)
	}
	// 10 C: 1.25 x 1.19 x 9.7775 = 14.54
	for _, text := range []string{"10 C", "50 F", "283.15 K"} {
		s.Power.Temperature = quantity.MustParse[quantity.TemperatureDimension](text)
		if v := supply.Of(s, least, day, nil).View(); *v.Needed != 14.5 {
			t.Errorf("at %s: %v Ah", text, *v.Needed)
		}
	}
	s.Power.Temperature = quantity.MustParse[quantity.TemperatureDimension]("-20 C")
	if v := supply.Of(s, least, day, nil).View(); v.Needed != nil || !strings.Contains(strings.Join(v.Sheet.Missing, " "), "temperature") {
		t.Errorf("far too cold: %v, %v", v.Needed, v.Sheet.Missing)
	}
}

func TestNothingIsFilledInSilently(t *testing.T) {
	v := supply.Of(&site.Site{}, supply.Least{}, day, nil).View()
	if v.Verdict != "unknown" || v.Needed != nil || len(v.Sheet.Missing) < 3 || len(v.Sheet.Steps) != 0 {
		t.Errorf("%+v", v)
	}
	for _, sh := range v.Sheets {
		if len(sh.Missing) == 0 || !strings.Contains(sh.Result, "Not determined") {
			t.Errorf("%s: %q", sh.ID, sh.Result)
		}
	}
}

func TestInternetOfTheMill(t *testing.T) {
	s := read(t, demo.Draft)
	internet := func() worked.Sheet {
		for _, sh := range supply.Of(s, least, day, nil).View().Sheets {
			if sh.ID == "internet" {
				return sh
			}
		}
		t.Fatal("no sheet of the internet")
		return worked.Sheet{}
	}
	if sh := internet(); !strings.Contains(sh.Result, "about 5 h") { // 7.2 / 1.4 = 5.14 h
		t.Error(sh.Result)
	}
	router := s.Premises.Internet.Parts["router"]
	router.Supply = "mains"
	s.Premises.Internet.Parts["router"] = router
	if sh := internet(); !strings.Contains(sh.Result, "silent as soon as the mains fails: Router") {
		t.Error(sh.Result)
	}
}

func TestRadioBatteries(t *testing.T) {
	s := read(t, demo.Draft)
	m := s.Models["contact"]
	m.BatteryLife = quantity.Duration{}
	m.Reports = quantity.MustParse[quantity.DurationDimension]("70 min")
	s.Models["contact"] = m
	seen := false
	for _, r := range supply.Of(s, least, day, nil).Batteries().Rows {
		if r.Device != "front-door" {
			continue
		}
		seen = true // 16.9 years by arithmetic, shelf life 10: fitted 2026-08, so 2036-08
		if r.Years == nil || *r.Years != 10 || r.Replace != "2036-08" || !strings.Contains(r.Say, "limited by shelf life") || math.Abs(step(r.Sheet, "5.11").Value-8.06) > 0.01 {
			t.Errorf("%+v", r)
		}
	}
	if !seen {
		t.Error("the front door has no battery")
	}
}

// Every sheet is whole in both languages: each step has its formula, its result and its source.
func TestSheetsAreWhole(t *testing.T) {
	s := read(t, demo.Draft)
	for _, lang := range []*words.Language{nil, words.In("de")} {
		of := supply.Of(s, least, day, lang)
		v := of.View()
		sheets := append([]worked.Sheet{v.Sheet}, v.Sheets...)
		for _, r := range of.Batteries().Rows {
			sheets = append(sheets, r.Sheet)
		}
		for _, sh := range sheets {
			for _, st := range sh.Steps {
				if st.Formula == "" || st.Says == "" || st.Say == "" || st.Source == "" || math.IsNaN(st.Value) || math.IsInf(st.Value, 0) {
					t.Errorf("%s: %+v", sh.ID, st)
				}
			}
			text := sh.Explain(lang)
			for _, never := range []string{"%!", "NaN", "Inf", "compliant"} {
				if strings.Contains(text, never) {
					t.Errorf("%s holds %q:\n%s", sh.ID, never, text)
				}
			}
		}
		if len(v.Sheet.Pictures) != 1 || !strings.Contains(string(v.Sheet.Pictures[0].SVG()), "<svg") {
			t.Error("no plot")
		}
	}
}

func step(sh worked.Sheet, formula string) worked.Step {
	for _, st := range sh.Steps {
		if st.Formula == formula {
			return st
		}
	}
	return worked.Step{}
}
