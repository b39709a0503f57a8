package estimate

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"proofbell/demo"
	"proofbell/internal/words"
	"proofbell/site"
)

func readSite(t testing.TB, text []byte, patches ...string) *site.Site {
	t.Helper()
	s, err := site.DecodeYAML("demo.yaml", text)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range patches {
		raw, err := site.EncodeJSON(s)
		if err != nil {
			t.Fatal(err)
		}
		if raw, err = site.Apply(raw, site.Patch(p)); err != nil {
			t.Fatalf("%s: %v", p, err)
		}
		if s, err = site.DecodeJSON("patched.json", raw); err != nil {
			t.Fatalf("%s: %v", p, err)
		}
	}
	return s
}

func linkOf(t testing.TB, r *Radio, id site.DeviceID) RadioLink {
	t.Helper()
	for _, l := range r.Links {
		if l.Device == id {
			return l
		}
	}
	t.Fatalf("no link of %s", id)
	return RadioLink{}
}

// The draft, by hand: 10 dBm + 105 dB less 20 log10(4 pi d f / c) less the walls of the plan on the straight way from the panel
// in its cupboard (9 dB) at 11, 8.6, 1.5 m: the wheel room's stone 20 dB a wall, the main block's 26, the wing's inner wall 6.
func TestMarginsOfTheWing(t *testing.T) {
	r := RadioOf(readSite(t, demo.Draft), nil, RadioTold{})
	for id, want := range map[site.DeviceID]struct {
		distance, walls, margin float64
		verdict                 Verdict
	}{
		"workshop-heat":        {12.90, 9 + 20 + 26, 6.1, Doubtful},
		"paper-store-smoke":    {12.11, 9 + 20 + 26, 6.7, Doubtful},
		"workshop-fire-button": {9.77, 9 + 20 + 20 + 26, -11.5, TooLittle},
		"workshop-doors":       {16.88, 9 + 20 + 26 + 6, -2.2, TooLittle},
		"workshop-motion":      {7.91, 9 + 20 + 26, 10.4, Doubtful},
		"paper-store-door":     {11.31, 9 + 20 + 26, 7.3, Doubtful},
	} {
		l := linkOf(t, r, id)
		if len(l.Hops) != 1 || l.Hops[0].Distance != want.distance || l.Hops[0].walls() != want.walls || math.Abs(l.Margin-want.margin) > 0.11 || l.Verdict != want.verdict {
			t.Errorf("%s: %+v, want %+v", id, l, want)
		}
		free := 20 * math.Log10(4*math.Pi*want.distance*915e6/299792458)
		if h := l.Hops[0]; math.Abs(h.Free-free) > 0.051 || math.Abs(h.Power-h.Free-h.walls()-h.Received) > 1e-9 || math.Abs(h.Received-h.Sensitivity-h.Margin) > 1e-9 {
			t.Errorf("%s: the figures do not add up: %+v", id, h)
		}
	}
	short := 0
	for _, l := range r.Links {
		if l.Verdict != Enough {
			short++
		}
	}
	if short != 6 {
		t.Errorf("%d links are short, want the six of the wing", short)
	}
	// Phi(6.1 / 8) = Phi(0.7625) = 0.777
	if w := linkOf(t, r, "workshop-heat").Works; math.Abs(w-0.777) > 0.001 {
		t.Errorf("workshop heat works with %v", w)
	}
}

func TestCorrectedHasMarginEverywhere(t *testing.T) {
	r := RadioOf(readSite(t, demo.Corrected), nil, RadioTold{})
	for _, l := range r.Links {
		if l.Verdict != Enough || l.Margin < 15 {
			t.Errorf("%s: %v %s", l.Device, l.Margin, l.Verdict)
		}
	}
	if to := linkOf(t, r, "workshop-heat").Hops[0].To; to != "wing-receiver" {
		t.Errorf("the workshop is heard by %q", to)
	}
}

// A radio repeater in the lounge carries the wing: each way is as good as its weakest hop.
func TestRadioRepeater(t *testing.T) {
	lounge := `{"models":{"radio-repeater":{"name":"Repeater","class":"repeater","link":"radio","transmitPower":"10 dBm","sensitivity":"-105 dBm"}},"devices":{"repeater":{"model":"radio-repeater","room":"G4","at":[16,1,2.2]}}}`
	r := RadioOf(readSite(t, demo.Draft, lounge), nil, RadioTold{})
	l := linkOf(t, r, "workshop-heat")
	if len(l.Hops) != 2 || l.Hops[0].To != "repeater" || l.Hops[1].From != "repeater" || l.Hops[1].To != "" {
		t.Fatalf("%+v", l.Hops)
	}
	if l.Margin != math.Min(l.Hops[0].Margin, l.Hops[1].Margin) {
		t.Errorf("margin %v of hops %v and %v", l.Margin, l.Hops[0].Margin, l.Hops[1].Margin)
	}
	if own := linkOf(t, r, "repeater"); own.Margin != l.Hops[1].Margin {
		t.Errorf("the repeater's own way: %v, as a hop %v", own.Margin, l.Hops[1].Margin)
	}
	// One that does not reach the panel itself helps nobody.
	r = RadioOf(readSite(t, demo.Draft, strings.Replace(lounge, "[16,1,2.2]", "[26,1,2.2]", 1)), nil, RadioTold{})
	if l := linkOf(t, r, "workshop-heat"); l.Margin > 6.2 {
		t.Errorf("through a deaf repeater: %v", l.Margin)
	}
}

// Sender and receiver change places: the same way, the same margin, when both have one antenna.
func TestLinksAreReciprocal(t *testing.T) {
	s := readSite(t, demo.Draft)
	r := RadioOf(s, nil, RadioTold{})
	panel := s.Panel.At
	for _, l := range r.Links {
		at := s.Devices[l.Device].At
		swapped := *s
		swapped.Panel.At = at
		swapped.Devices = map[site.DeviceID]site.Device{l.Device: {Model: s.Devices[l.Device].Model, At: panel}}
		swapped.Zones = nil
		if back := linkOf(t, RadioOf(&swapped, nil, RadioTold{}), l.Device); back.Margin != l.Margin {
			t.Errorf("%s: %v, back %v", l.Device, l.Margin, back.Margin)
		}
	}
}

func TestNothingIsFilledInSilently(t *testing.T) {
	for patch, want := range map[string]string{
		`{"panel":{"radio":{"frequency":null}}}`:                "frequency of the panel's radio",
		`{"panel":{"radio":{"sensitivity":null}}}`:              "sensitivity of the panel's receiver",
		`{"panel":{"at":null,"room":null}}`:                     "place of the panel",
		`{"panel":{"radio":{"frequency":"50 MHz"}}}`:            "between 100 MHz and 6 GHz",
		`{"models":{"heat":{"transmitPower":null}}}`:            "transmit power of Heat detector",
		`{"devices":{"workshop-heat":{"at":null,"room":null}}}`: "place of the device",
		`{"materials":{"rubble-stone":{"radioLoss":null}}}`:     "radio loss",
	} {
		l := linkOf(t, RadioOf(readSite(t, demo.Draft, patch), nil, RadioTold{}), "workshop-heat")
		if l.Verdict != NotDetermined || !math.IsNaN(l.Margin) || !strings.Contains(fmt.Sprint(l.Missing), want) {
			t.Errorf("%s: %v, missing %v, want %q", patch, l.Verdict, l.Missing, want)
		}
	}
	r := RadioOf(readSite(t, demo.Draft, `{"panel":{"radio":{"wantedMargin":null,"frequency":"433.92 MHz"}}}`), nil, RadioTold{})
	if r.Wanted != 20 || !strings.Contains(fmt.Sprint(r.Assumed), "Wanted margin not given: 20 dB") {
		t.Errorf("wanted %v, assumed %v", r.Wanted, r.Assumed)
	}
}

// A site without a plan: two models that know nothing of the building, and the harsher counts. 15 m at 900 MHz: classic
// N 28 gives 59.08 + 32.93 - 28 = 64.0 dB, site-general 24.6 x 1.176 + 29.53 + 23.8 x (-0.0458) = 57.4 dB.
func TestWithoutAPlan(t *testing.T) {
	s := readSite(t, []byte(`{panel: {at: [0, 0, 1], radio: {frequency: 900 MHz, sensitivity: -105 dBm, wantedMargin: 15 dB}}, models: {m: {name: Door contact, class: contact, link: radio, transmitPower: 0 dBm}}, devices: {d: {model: m, at: [15, 0, 1]}}}`))
	l := linkOf(t, RadioOf(s, nil, RadioTold{}), "d")
	if math.Abs(l.Hops[0].Free-64.0) > 0.051 || math.Abs(l.Margin-41) > 0.051 {
		t.Errorf("%+v", l)
	}
}

// What was measured counts beside the estimate, and from three levels on moves the model: planted are 4 dB less than computed.
func TestMeasuredLevelsMoveTheModel(t *testing.T) {
	s := readSite(t, demo.Draft)
	before := RadioOf(s, nil, RadioTold{})
	var told RadioTold
	for _, id := range []site.DeviceID{"workshop-heat", "hall-smoke", "kitchen-heat", "lounge-smoke", "wheel-hatch"} {
		told.Levels = append(told.Levels, RadioLevel{Device: id, DBm: linkOf(t, before, id).Hops[0].Received - 4})
	}
	r := RadioOf(s, nil, told)
	if r.Fit == nil || math.Abs(float64(r.Fit.Offset)+4) > 0.01 || math.Abs(r.Fit.Factor-1) > 0.001 {
		t.Fatalf("%+v", r.Fit)
	}
	l := linkOf(t, r, "paper-store-smoke")
	if math.Abs(l.Margin-2.7) > 0.11 || l.Hops[0].Fitted != -4 {
		t.Errorf("paper store: %v after %v added", l.Margin, l.Hops[0].Fitted)
	}
	if m := linkOf(t, r, "workshop-heat").Measured; m == nil || math.Abs(*m-2.1) > 0.11 {
		t.Errorf("measured margin %v", m)
	}
	if one := RadioOf(s, nil, RadioTold{Levels: told.Levels[:1]}); one.Fit != nil || !strings.Contains(fmt.Sprint(one.Assumed), "three or more") {
		t.Errorf("one level fits nothing: %+v", one.Fit)
	}
}

// q 0.1, every 60 s, loss window 200 s: three misses. (1000 - 1) / 0.9 = 1110 check-ins, 525 600 a year: 473.5 times.
func TestFalseLossesOnlyFromMeasuredLoss(t *testing.T) {
	s := readSite(t, demo.Draft)
	if l := linkOf(t, RadioOf(s, nil, RadioTold{}), "workshop-heat"); l.False != nil {
		t.Errorf("made from a margin: %v", *l.False)
	}
	l := linkOf(t, RadioOf(s, nil, RadioTold{Lost: map[site.DeviceID]float64{"workshop-heat": 0.1}}), "workshop-heat")
	if l.False == nil || math.Abs(*l.False-473.5) > 0.1 || l.Watched.Misses != 3 {
		t.Errorf("%+v", l)
	}
}

func TestTermsAddUp(t *testing.T) {
	r := RadioOf(readSite(t, demo.Draft), nil, RadioTold{})
	sum, margin := 0.0, 0.0
	h := linkOf(t, r, "workshop-heat").Hops[0]
	for _, term := range h.Terms(words.In("en")) {
		switch {
		case term.Name == "margin":
			margin = term.Value
		case term.Name == "sensitivity of the receiver":
			sum -= term.Value
		case term.Name == "received level" || term.Unit == "m":
		case term.Unit == "dB":
			sum -= term.Value
		default:
			sum += term.Value
		}
	}
	if math.Abs(sum-margin) > 1e-9 || margin != h.Margin {
		t.Errorf("the terms add up to %v, the margin is %v", sum, margin)
	}
	want := "10 dBm - 53.9 dB (12.9 m to the panel) - 26 dB (Rubble stone 0.60 m) - 20 dB (Stone 0.45 m) - 9 dB (Foil-backed board) = -98.9 dBm; the receiver needs -105 dBm"
	if got := h.Sum(words.In("en"), "the panel"); got != want {
		t.Errorf("%s\nwant %s", got, want)
	}
}
