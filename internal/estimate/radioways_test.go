package estimate

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"proofbell/internal/words"
	"proofbell/site"
)

// Two rooms side by side and two above them; the panel in the hall, one smoke detector 7 m away behind wall and door.
const ways = `
storeys: {g: {name: Ground, level: 0, ceiling: 2.5}, u: {name: Upper, level: 2.8, ceiling: 2.5, floor: slab}}
materials:
  light: {name: Light wall, as: stud-wall}
  stone: {name: Stone, radioLoss: 20 dB}
  steel: {name: Steel leaf, as: steel-door}
  plate: {name: Steel plate, radioLoss: 30 dB}
  slab: {name: Slab, as: concrete-floor}
  odd: {name: Odd leaf}
rooms:
  H: {name: Hall, storey: g, outline: [[0, 0], [4, 0], [4, 5], [0, 5]], use: hall}
  B: {name: Store, storey: g, outline: [[4, 0], [10, 0], [10, 5], [4, 5]]}
  U: {name: Landing, storey: u, outline: [[0, 0], [4, 0], [4, 5], [0, 5]], use: hall}
  V: {name: Loft, storey: u, outline: [[4, 0], [10, 0], [10, 5], [4, 5]]}
walls:
  w: {storey: g, from: [4, 0], to: [4, 5], thickness: 0.1, material: light}
openings:
  d: {kind: door, storey: g, at: [4, 2.5], width: 0.9, rooms: [H, B], material: light}
panel: {room: H, at: [1, 2.5, 1.0], radio: {frequency: 868 MHz, sensitivity: -105 dBm, antenna: 0 dBi}}
models: {sm: {name: Smoke, class: smoke, link: radio, transmitPower: 10 dBm, antenna: 0 dBi, terminals: {t: {senses: smoke}}}}
devices: {s: {model: sm, room: B, at: [8, 2.5, 1.0]}}
`

const threeMore = `{"walls":{"w":{"material":"stone"}},"openings":{"d":{"material":"stone"}},"devices":{"a":{"model":"sm","room":"H","at":[3,2.5,1]},"b":{"model":"sm","room":"H","at":[3,3.5,1]},"c":{"model":"sm","room":"B","at":[6,3.5,1]}}}`

func heardAt(of site.DeviceID, dBm float64) RadioLevel {
	return RadioLevel{Entry: string(of), Device: of, DBm: dBm}
}

// More arrives through the wall than beside it: no factor below 0, and the field is drawn.
func TestLevelsThatContradictTheWalls(t *testing.T) {
	r := RadioOf(readSite(t, []byte(ways), threeMore), nil, RadioTold{Levels: []RadioLevel{heardAt("a", -60), heardAt("b", -62), heardAt("c", -38), heardAt("s", -40)}})
	if r.Fit == nil || r.Fit.Factor < 0 {
		t.Fatalf("%+v", r.Fit)
	}
	if v, err := r.Field(words.In("en"), FieldAsk{Storey: "g", Step: 0.5}); err != nil || len(v.Bands) == 0 {
		t.Error(err)
	}
}

// Levels that scatter by more than the planned shadowing raise it, and the wanted margin with it.
func TestScatterRaisesTheWantedMargin(t *testing.T) {
	r := RadioOf(readSite(t, []byte(ways), threeMore), nil, RadioTold{Levels: []RadioLevel{heardAt("a", -60), heardAt("b", -30), heardAt("c", -58)}})
	if s := round1(float64(r.Fit.Sigma)); s <= 8 || r.Sigma != s || r.Wanted != round1(15*s/8) || !strings.Contains(fmt.Sprint(r.Assumed), "it is raised from 15 to") {
		t.Errorf("scatter %v, shadowing %v, wanted %v, %v", r.Fit.Sigma, r.Sigma, r.Wanted, r.Assumed)
	}
}

// A level measured at the receiver stands above the estimate, both ways: -104 dBm at a receiver of -105 leaves 1 dB, -80 leaves 25.
func TestMeasuredLevelIsTheVerdict(t *testing.T) {
	s := readSite(t, []byte(ways))
	l := linkOf(t, RadioOf(s, nil, RadioTold{Levels: []RadioLevel{heardAt("s", -80), heardAt("s", -104)}}), "s")
	if l.Verdict != Doubtful || l.Measured == nil || *l.Measured != 1 || l.Margin < 15 {
		t.Errorf("%+v", l)
	}
	s = readSite(t, []byte(ways), `{"walls":{"w":{"material":"odd"}},"openings":{"d":{"material":"odd","width":"2 m"}}}`)
	l = linkOf(t, RadioOf(s, nil, RadioTold{Levels: []RadioLevel{heardAt("s", -80)}}), "s")
	if l.Verdict != Enough || !math.IsNaN(l.Margin) || l.Measured == nil || *l.Measured != 25 {
		t.Errorf("a way that the model does not know: %+v", l)
	}
}

// What stands where no count of false reports can be given is the true reason.
func TestWhyNoFalseReportsAreCounted(t *testing.T) {
	for patch, c := range map[string]struct {
		lost float64
		why  string
	}{
		`{"models":{"sm":{"reports":"60 s"}},"zones":{"01":{"device":"s","lossWindow":"30 s"}}}`:  {0.1, "the loss window of 30 s holds 0 check-ins of 60 s"},
		`{"models":{"sm":{"reports":"60 s"}},"zones":{"01":{"device":"s","lossWindow":"200 s"}}}`: {0, "No check-in was lost"},
		`{"models":{"sm":{"reports":"60 s"}}}`:                                                    {0.1, "no zone of the device"},
		`{}`:                                                                                      {0.1, "how often the device reports"},
	} {
		l := linkOf(t, RadioOf(readSite(t, []byte(ways), patch), nil, RadioTold{Lost: map[site.DeviceID]float64{"s": c.lost}}), "s")
		if l.False != nil || !strings.Contains(l.FalseWhy.String(), c.why) {
			t.Errorf("%s: %v %q", patch, l.False, l.FalseWhy)
		}
	}
}
