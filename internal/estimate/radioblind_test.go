package estimate

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"proofbell/geom"
	"proofbell/internal/words"
)

// What the model does not know is not determined, and what takes less only where it is wide counts for no less than what it
// is in. Free space over 7 m at 868 MHz: 20 log10(4 pi 7 868e6 / c) = 48.1 dB, 10 dBm and -105 dBm: 66.9 dB before walls. A light
// wall or wooden leaf takes 3 dB, the opening needs 1.1 m.
func TestOpeningsOnTheWay(t *testing.T) {
	for patch, want := range map[string]float64{
		`{}`: 63.9,
		`{"openings":{"d":{"width":"2 m","material":"stone"}}}`:                             46.9,
		`{"openings":{"d":{"width":"2 m","material":"steel"}}}`:                             math.NaN(),
		`{"openings":{"d":{"material":"steel"}}}`:                                           math.NaN(),
		`{"openings":{"d":{"material":"odd"}}}`:                                             math.NaN(),
		`{"openings":{"d":{"material":"plate"}}}`:                                           36.9, // narrow, and takes more than its wall
		`{"walls":{"w":{"material":"stone"}}}`:                                              46.9, // narrow, and takes less
		`{"walls":{"w":{"material":"odd"}}}`:                                                math.NaN(),
		`{"walls":{"w":{"material":"stone"}},"openings":{"d":{"width":"2 m","open":true}}}`: 63.9, // drawn open, and shut all the same
		`{"walls":{"w":{"material":"stone"}},"openings":{"d":{"open":true}}}`:               46.9,
		`{"walls":{"w":{"material":"stone"}},"openings":{"d":{"kind":"passage"}}}`:          46.9, // narrow
		`{"openings":{"d":{"kind":"passage","width":"2 m"}}}`:                               66.9,
		`{"openings":{"d":{"kind":"window","width":"2 m","open":true,"material":"plate"}}}`: 36.9,
	} {
		r := RadioOf(readSite(t, []byte(ways), patch), nil, RadioTold{})
		if l := linkOf(t, r, "s"); !(math.Abs(l.Margin-want) < 0.051) && !(math.IsNaN(want) && l.Verdict == NotDetermined && len(l.Missing) > 0) {
			t.Errorf("%s: %v %s %v, want %v", patch, l.Margin, l.Verdict, l.Missing, want)
		}
	}
	r := RadioOf(readSite(t, []byte(ways), `{"openings":{"d":{"width":"2 m","open":true,"material":null}}}`), nil, RadioTold{})
	if assumed, _ := r.Notes(words.In("en")); !strings.Contains(strings.Join(assumed, "\n"), "d: no material given; taken as hollow door") {
		t.Error(assumed)
	}
}

// The device 2.8 m over the hall's end of a stair. 434 MHz asks for 1.6 m: the concrete floor takes 18 dB at it, and the hole 1 m
// wide no less; one of 2 m takes nothing; a shut hatch of 2 m of stone 20 dB, open on the plan or not.
func TestHolesInFloors(t *testing.T) {
	const over = `"devices":{"s":{"room":"U","at":[1,2.5,3.8]}},"panel":{"radio":{"frequency":"433 MHz"}}`
	hole := func(kind, width, more string) string {
		return `{"openings":{"st":{"kind":"` + kind + `","at":[1,2.5],"width":"` + width + `","rooms":["U","H"]` + more + `}},` + over + `}`
	}
	bare := linkOf(t, RadioOf(readSite(t, []byte(ways), `{`+over+`}`), nil, RadioTold{}), "s").Margin
	// 20 log10(4 pi 2.8 433e6 / c) = 34.1: 115 - 34.1 - 18.
	if math.Abs(bare-62.9) > 0.051 {
		t.Errorf("through the floor: %v", bare)
	}
	for patch, less := range map[string]float64{
		hole("stair", "1 m", ""):                                0,
		hole("stair", "2 m", ""):                                -18,
		hole("hatch", "1 m", ""):                                0,
		hole("hatch", "0.9 m", `,"material":"stone"`):           2,
		hole("hatch", "2 m", `,"material":"stone"`):             2,
		hole("hatch", "2 m", `,"material":"stone","open":true`): 2,
	} {
		if l := linkOf(t, RadioOf(readSite(t, []byte(ways), patch), nil, RadioTold{}), "s"); !(math.Abs(bare-less-l.Margin) < 0.051) {
			t.Errorf("%s: %v, through the floor %v", patch, l.Margin, bare)
		}
	}
	steel := linkOf(t, RadioOf(readSite(t, []byte(ways), hole("hatch", "0.9 m", `,"material":"steel"`)), nil, RadioTold{}), "s")
	if steel.Verdict != NotDetermined || !strings.Contains(fmt.Sprint(steel.Missing), "blocked unless tried") {
		t.Errorf("%+v", steel)
	}
}

// Where nobody drew anything, nobody knows what stands.
func TestUndrawnRoomsAreNotAir(t *testing.T) {
	const wing = `"rooms":{"W":{"name":"Wing"}}`
	for patch, want := range map[string]string{
		`{` + wing + `}`: "", // the way stays in drawn rooms
		`{` + wing + `,"devices":{"s":{"room":"W","at":[40,2.5,1]}}}`:  "outline of Wing",
		`{` + wing + `,"devices":{"s":{"room":null,"at":[40,2.5,1]}}}`: "outline of Wing",
		`{` + wing + `,"devices":{"s":{"room":"B","at":[12,2.5,1]}}}`:  "outside of its room, Store",
		`{"devices":{"s":{"room":"B","at":[12,2.5,1]}}}`:               "outside of its room, Store",
		`{"devices":{"s":{"room":"B","at":[10.2,2.5,1]}}}`:             "", // on the outer face of its wall
		`{"devices":{"s":{"room":null,"at":[12,2.5,1]}}}`:              "", // out of doors, and all rooms are drawn
		`{` + wing + `,"panel":{"room":"W","at":[40,2.5,1]}}`:          "outline of Wing",
		`{"rooms":{"W":{"name":"Wing"},"X":{"name":"Shed","storey":"g","outline":[[20,0],[24,0],[24,5],[20,5]]}},"devices":{"s":{"room":"X","at":[22,2.5,1]}}}`: "outline of Wing: what stands beyond the drawn rooms",
	} {
		l := linkOf(t, RadioOf(readSite(t, []byte(ways), patch), nil, RadioTold{}), "s")
		if said := fmt.Sprint(l.Missing); want == "" && l.Verdict == NotDetermined || want != "" && (l.Verdict != NotDetermined || !strings.Contains(said, want)) {
			t.Errorf("%s: %v %v, want %q", patch, l.Verdict, said, want)
		}
	}
	// A repeater whose room is not drawn carries nobody, and no place is proposed for a device of which it is not known what stands about it.
	s := readSite(t, []byte(ways), `{`+wing+`,"panel":{"radio":{"sensitivity":"-50 dBm"}},"models":{"rr":{"name":"Repeater","class":"repeater","link":"radio","transmitPower":"10 dBm"}},"devices":{"rep":{"model":"rr","room":"W","at":[40,2.5,1]}}}`)
	r := RadioOf(s, nil, RadioTold{})
	if l := linkOf(t, r, "s"); len(l.Hops) != 1 {
		t.Errorf("%+v", l.Hops)
	}
	s = readSite(t, []byte(ways), `{`+wing+`,"devices":{"s":{"room":"W","at":[40,2.5,1]}}}`)
	if p := RadioOf(s, nil, RadioTold{Levels: []RadioLevel{heardAt("s", -104)}}).Repeaters(false); len(p.Short) != 1 || len(p.Unserved) != 1 {
		t.Errorf("%+v", p)
	}
}

// The landing lies over the hall's western part. From it out over the flat roof and down into the hall nothing is known; down
// through its own floor it is.
func TestHalfCoveredRoof(t *testing.T) {
	const long = `{"rooms":{"B":null,"V":null,"H":{"outline":[[0,0],[10,0],[10,5],[0,5]]}},"walls":null,"openings":null,"panel":{"room":"U","at":[3.9,2.5,5]},"devices":{"s":{"room":"H","at":[%s,2.5,1]}}}`
	for at, determined := range map[string]bool{"9": false, "3": true} {
		r := RadioOf(readSite(t, []byte(ways), fmt.Sprintf(long, at)), nil, RadioTold{})
		l := linkOf(t, r, "s")
		if (l.Verdict != NotDetermined) != determined || !determined && !strings.Contains(fmt.Sprint(l.Missing), "roof over Hall") {
			t.Errorf("%s: %v %v", at, l.Verdict, l.Missing)
		}
		device, _ := r.site.Devices["s"].At.Point()
		if m := r.margin(geom.Point3{X: device.X, Y: device.Y, Z: 1}, 10, 0, r.Receivers[0]); math.IsInf(m, -1) == determined {
			t.Errorf("%s: %v by rays", at, m)
		}
	}
}

// 40 m in premises of which nothing is drawn: N 33 of offices, or 28 of homes, whatever the shadowing; the site-general model ends
// at 30 m. 20 log10 868 + N x 1.602 - 28 = 83.6 and 75.6 dB; four floors count as the three that are published, and that is said.
func TestUseOfThePremisesDecidesTheModel(t *testing.T) {
	const plan = `{premises: {use: %s}, storeys: {a: {name: A, level: 0}, b: {name: B, level: 3}, c: {name: C, level: 6}, d: {name: D, level: 9}, e: {name: E, level: 12}},
panel: {at: [0, 0, 1], radio: {frequency: 868 MHz, sensitivity: -105 dBm, wantedMargin: 15 dB%s}},
models: {m: {name: Door contact, class: contact, link: radio, transmitPower: 0 dBm}}, devices: {s: {model: m, at: [40, 0, 1]}, high: {model: m, at: [0, 0, 13]}}}`
	for _, c := range []struct {
		use, shadowing string
		sigma, margin  float64
	}{
		{"office", "", 10, 21.4},
		{"office", ", shadowing: 6 dB", 6, 21.4},
		{"shop", "", 10, 21.4},
		{"dwelling", "", 8, 29.4},
		{"dwelling", ", shadowing: 10 dB", 10, 29.4},
		{"guesthouse", "", 8, 29.4},
	} {
		r := RadioOf(readSite(t, []byte(fmt.Sprintf(plan, c.use, c.shadowing))), nil, RadioTold{})
		if l := linkOf(t, r, "s"); math.Abs(l.Margin-c.margin) > 0.11 || r.Sigma != c.sigma {
			t.Errorf("%s%s: margin %v, sigma %v; want %v, %v", c.use, c.shadowing, l.Margin, r.Sigma, c.margin, c.sigma)
		}
		if said := fmt.Sprint(r.Assumed); !strings.Contains(said, "More than 3 floors on the way: only 3 are published") {
			t.Error(said)
		}
	}
}

// Every assumption stands with the proposal too.
func TestProposalsSayWhatTheyRestOn(t *testing.T) {
	r := RadioOf(readSite(t, []byte(ways), `{"panel":{"radio":{"sensitivity":"-50 dBm","antenna":null}},"devices":{"s":{"at":null}},"rooms":{"W":{"name":"Wing"}}}`), nil, RadioTold{})
	v := r.Repeaters(false).View(words.In("en"), r)
	said := strings.Join(v.Assumed, "\n")
	for _, want := range []string{"The repeater's own figures are not in the site file", "Gain of the panel's antenna not given: 0 dBi", "Shadowing not given", "Wanted margin not given", "All doors, hatches and windows shut", "Devices without a place or a height", "narrower than 1.1 m"} {
		if !strings.Contains(said, want) {
			t.Errorf("not said: %s\n%s", want, said)
		}
	}
	if !strings.Contains(strings.Join(v.Missing, "\n"), "Wing: no outline yet") {
		t.Error(v.Missing)
	}
	s := readSite(t, []byte(ways), `{"models":{"rr":{"name":"Carrier","class":"repeater","link":"radio","transmitPower":"10 dBm"}},"devices":{"rep":{"model":"rr","room":"B"}}}`)
	said = fmt.Sprint(RadioOf(s, nil, RadioTold{}).Assumed)
	for _, want := range []string{"Carrier: sensitivity not given", "Carrier: gain of its antenna not given: 0 dBi", "Devices without a place or a height"} {
		if !strings.Contains(said, want) {
			t.Errorf("not said: %s\n%s", want, said)
		}
	}
}
