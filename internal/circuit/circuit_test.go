package circuit

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"proofbell/demo"
	"proofbell/internal/words"
	"proofbell/site"
)

func mill(t *testing.T) *site.Site {
	t.Helper()
	s, err := site.DecodeYAML("larkwater.yaml", demo.Corrected)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func circuitOf(t *testing.T, text string) site.Circuit {
	t.Helper()
	s, err := site.DecodeJSON("c.json", []byte(`{"circuits":{"c":`+text+`}}`))
	if err != nil {
		t.Fatal(err)
	}
	return s.Circuits["c"]
}

func dropped(t *testing.T, text string) Drop {
	t.Helper()
	d, err := DropOfPlain(words.In("en"), &site.Site{}, circuitOf(t, text))
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// 18 AWG solid at 40 C: 7.77 (1 - 0.00323 x 35) = 6.8916 ohm/kft = 22.6103 ohm/km. Out and back: bell 0.99485, hall 0.40699,
// landing 0.49743, wing 1.71838 ohm. Bell 10.5 - 0.4 x 0.99485 = 10.10; hall 10.5 - 0.44 x 0.40699 = 10.3209; landing
// - 0.32 x 0.49743 = 10.1617; wing - 0.2 x 1.71838 = 9.8181.
func TestSoundersOfTheMill(t *testing.T) {
	d, err := DropOf(words.In("en"), mill(t), "sounders")
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]float64{"bell": 10.10, "hall": 10.32, "landing": 10.16, "wing": 9.82}
	for _, n := range d.Nodes {
		if n.Volts == nil || *n.Volts != want[n.ID] {
			t.Errorf("%s: %+v", n.ID, n)
		}
	}
	if d.Verdict != Enough || d.First != "wing" || len(d.Missing) != 0 || d.Say != "Workshop sounder gets 9.82 V and needs 9 V: 0.82 V to spare, the least of all." {
		t.Errorf("%+v", d)
	}
	// End of line: 0.84 A over 58 m: 2.62279 ohm: 10.5 - 2.20315 = 8.30: the rule of thumb would ask for thicker wire.
	if *d.Thumb != 8.30 {
		t.Errorf("thumb %v", *d.Thumb)
	}
	// With 22 AWG (16.14 x 1.0786 = 17.4086 ohm/kft, 2.526 times as much) the wing falls by 0.6819 x 2.526 = 1.72 to 8.78 V;
	// 20 AWG (10.15 x 1.0786 = 10.948, 1.5886 times) by 1.083 to 9.42 V.
	if d.Smallest != "20 AWG" {
		t.Errorf("thinnest: %q", d.Smallest)
	}
	german, _ := DropOf(words.In("de"), mill(t), "sounders")
	if !strings.Contains(german.Say, "9,82 V") {
		t.Error(german.Say)
	}
}

func TestDropInOtherUnits(t *testing.T) {
	metric := dropped(t, `{"supply":"20.4 V","cable":{"conductor":"14 AWG","strand":"solid","temperature":"75 C"},"parts":{"a":{"length":"24.384 m","current":"0.12 A","least":"16 V"},
		"b":{"from":"a","length":"21.336 m","current":"0.12 A","least":"16 V"},"c":{"from":"b","length":"33.528 m","current":"0.2 A","least":"16 V"}}}`)
	feet := dropped(t, `{"supply":"20400 mV","cable":{"conductor":"AWG 14","strand":"solid","temperature":"167 F"},"parts":{"a":{"length":"80 ft","current":"120 mA","least":"16 V"},
		"b":{"from":"a","length":"70 ft","current":"120 mA","least":"16000 mV"},"c":{"from":"b","length":"110 ft","current":"200 mA","least":"16 V"}}}`)
	for i, want := range []float64{20.18, 20.05, 19.91} { // worked in electrical/drop_test.go
		if *metric.Nodes[i].Volts != want || *feet.Nodes[i].Volts != want {
			t.Errorf("%v and %v, want %v", *metric.Nodes[i].Volts, *feet.Nodes[i].Volts, want)
		}
	}
	if *metric.Thumb != 19.70 || metric.Smallest != feet.Smallest {
		t.Errorf("%v %q %q", *metric.Thumb, metric.Smallest, feet.Smallest)
	}
}

func TestWhatIsMissingIsNamed(t *testing.T) {
	d := dropped(t, `{"parts":{"bell":{"length":"20 m"}}}`)
	if d.Verdict != NotDetermined || len(d.Missing) != 2 || !strings.Contains(d.Say, "supply voltage") || d.Total != nil {
		t.Errorf("%+v", d.Missing)
	}
	d = dropped(t, `{"supply":"12 V","cable":{"conductor":"1.5 mm2"},"parts":{"bell":{"length":"20 m","current":"0.3 A"}}}`)
	if d.Verdict != NotDetermined || len(d.Missing) != 1 || d.Nodes[0].Volts == nil || d.Smallest != "" {
		t.Errorf("%+v", d)
	}
	if d := dropped(t, `{"supply":"12 V","cable":{"conductor":"1.5 mm2","material":"other"},"parts":{"bell":{"length":"20 m","current":"0.3 A","least":"9 V"}}}`); d.Verdict != NotDetermined || !strings.Contains(d.Say, "measured") {
		t.Error(d.Say)
	}
}

func TestUnservedPowerAndRing(t *testing.T) {
	d := dropped(t, `{"supply":"12.6 V","cable":{"measured":"4 ohm","over":"100 m","temperature":"20 C","while":"20 C"},"parts":{"camera":{"length":"100 m","power":"12 W","least":"9 V"}}}`)
	if d.Verdict != Unserved || d.First != "camera" || !d.Nodes[0].Fails || !strings.Contains(d.Say, "82 %") { // 9.9225 of 12 W
		t.Errorf("%+v", d)
	}
	ring := dropped(t, `{"supply":"12 V","cable":{"measured":"1 ohm","over":"10 m","temperature":"20 C","while":"20 C"},
		"parts":{"a":{"length":"10 m","current":"0.3 A","least":"10.5 V"},"b":{"from":"a","length":"20 m","current":"0.6 A","least":"10.5 V"}},"ring":{"from":"b","length":"30 m"}}`)
	// Whole: 11.45 and 10.95 V. Cut between panel and a, b comes first: 12 - 3 x 0.9 = 9.3, a 9.3 - 2 x 0.3 = 8.7.
	if ring.Verdict != TooLow || *ring.Nodes[0].Volts != 11.45 || *ring.Nodes[1].Volts != 10.95 || !strings.Contains(ring.BreakSay, "panel to a: a gets 8.70 V, 1.80 V too little") {
		t.Errorf("%v %s %+v", ring.Verdict, ring.BreakSay, ring.Nodes)
	}
}

func looped(t *testing.T, text string, ohm float64) Loop {
	t.Helper()
	l, err := LoopOfPlain(words.In("en"), &site.Site{}, circuitOf(t, text), Measured{Ohm: &ohm})
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// 22 AWG solid: 16.14 ohm/kft at 20 C: 52.953 ohm/km; at 40 C 57.115, at 0 C 48.791. 45 m out and back: 4.39 to 5.14 ohm.
// Key turned: 4700 and 1500 in parallel: 1137.1 ohm.
func TestKeyLoopOfTheMill(t *testing.T) {
	ask := func(ohm float64) Loop {
		l, err := LoopOf(words.In("en"), mill(t), "key-loop", Measured{Ohm: &ohm})
		if err != nil {
			t.Fatal(err)
		}
		return l
	}
	for ohm, want := range map[float64]string{4700: "Normal", 1137: "One sensor in alarm", math.Inf(1): "Cut or opened", 2350: "Outside every window", 1.7: "Short"} {
		l := ask(ohm)
		if l.Answer == nil || l.Answer.Title != want || l.Unclear || len(l.Clashes) != 0 || len(l.Missing) != 0 {
			t.Errorf("%v ohm: %+v %+v", ohm, l.Answer, l)
		}
	}
	// 1.7/(2 x 0.057115) = 14.88; 1.7/(2 x 0.048791) = 17.42: a little beyond the joint at 14 m.
	if got := ask(1.7).Answer.Distance; got != "A short lies about 15 m to 17 m along the cable from where it was measured." {
		t.Error(got)
	}
	half := ask(2350).Answer
	if len(half.Hints) == 0 || !strings.Contains(half.Hints[0], "Half") {
		t.Errorf("%+v", half)
	}
	six := 6.0
	l, err := LoopOf(words.In("en"), mill(t), "key-loop", Measured{Volt: &six})
	if err != nil || l.Answer.Title != "Normal" { // 12 V through 4.7 kilohm: half is 4.7 kilohm
		t.Errorf("%+v %v", l.Answer, err)
	}
}

func TestLoopAgainstThePanel(t *testing.T) {
	l := looped(t, `{"endOfLine":"10 kilohm","input":{"contacts":"open-on-alarm","alarm":"4.7 kilohm","tolerance":"5 %","windows":{"normal":{"from":"3.8 kilohm","to":"5.6 kilohm"},"alarm":{"from":"7.8 kilohm","to":"11.2 kilohm"}}}}`, 10000)
	if !l.Unclear || !strings.Contains(l.Windows[1].Panel, "may take it for one sensor in alarm") {
		t.Errorf("%+v", l.Windows)
	}
	if l := looped(t, `{"endOfLine":"4.7 kilohm","input":{"contacts":"open-on-alarm"}}`, 4700); !strings.Contains(strings.Join(l.Missing, ";"), "take them from the panel's instructions") || l.Unclear {
		t.Errorf("%+v", l.Missing)
	}
	if l := looped(t, `{"endOfLine":"in the panel","input":{"contacts":"open-on-alarm"}}`, 4700); l.Answer != nil || len(l.Missing) != 1 {
		t.Errorf("%+v", l)
	}
}

// Pages and papers are given JSON: no figure may be infinite or not a number.
func TestEverySheetIsJSON(t *testing.T) {
	s := mill(t)
	open := math.Inf(1)
	l, err := LoopOf(words.In("de"), s, "key-loop", Measured{Ohm: &open})
	if err != nil {
		t.Fatal(err)
	}
	d, err := DropOf(words.In("de"), s, "sounders")
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range []any{l, l.Sheet(), d, d.Sheet()} {
		if _, err := json.Marshal(v); err != nil {
			t.Error(err)
		}
	}
	if p := d.Picture(); len(p.Lines) < 9 || p.Width < 500 {
		t.Errorf("%+v", p)
	}
}
