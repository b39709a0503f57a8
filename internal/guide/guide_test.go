package guide

import (
	"encoding/json"
	"flag"
	"html"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"proofbell/demo"
	"proofbell/internal/keypad"
	"proofbell/internal/keypad/keypadtest"
	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/site"
)

func mill(t testing.TB) *site.Site {
	t.Helper()
	s, err := site.DecodeYAML("demo", demo.Corrected)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// panelOf is a panel with the practice building on it.
func panelOf(t testing.TB, name string) (*site.Site, *panel.Profile) {
	t.Helper()
	s := mill(t)
	s.Panel.Profile = name
	p, err := panel.Builtin(name)
	if err != nil {
		t.Fatal(err)
	}
	return s, p
}

func all(sheet keypad.Sheet) (out []site.ZoneID) {
	for _, z := range sheet.Zones {
		out = append(out, z.Zone)
	}
	return out
}

var update = flag.Bool("update", false, "write the golden files anew; read the difference before keeping it")

// The guide of zone 09 at each panel. The cards are those of the three dialogues that docs/format/profile.md describes,
// kept as a file, so that only the wording and the times of the guide are under test. Times by hand, at Ladder: 09 and OK
// are three keys of 0.7 s and one prompt of 2 s, 4.1 s; the identity 22 777 0010 13 OK is twelve keys, 10.4 s.
func TestGolden(t *testing.T) {
	for _, name := range panel.Names() {
		s, p := panelOf(t, name)
		file := filepath.Join("testdata", name+".cards.json")
		if *update {
			sheet := keypad.Compile(s, p, nil, keypad.Options{ReadBack: true})
			sheet.Keys, sheet.Problems = []string{}, nil
			sheet.Zones = slices.DeleteFunc(sheet.Zones, func(z keypad.ZoneCards) bool { return z.Zone != "09" })
			raw, err := json.MarshalIndent(sheet, "", " ")
			if err == nil {
				err = os.WriteFile(file, raw, 0o644)
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		raw, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		var sheet keypad.Sheet
		if err := json.Unmarshal(raw, &sheet); err != nil {
			t.Fatal(err)
		}
		for _, reader := range []Reader{Junior, Customer} {
			got := Script(Make(s, p, sheet, Options{Reader: reader, Lost: []string{"Begin the zone again."}}))
			golden := filepath.Join("testdata", name+"."+string(reader)+".txt")
			if *update {
				if err := os.WriteFile(golden, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(golden)
			if err != nil {
				t.Fatal(err)
			}
			if got != string(want) {
				t.Errorf("%s, for a %s:\n%s\nwant:\n%s", name, reader, got, want)
			}
		}
	}
}

// The guide presses exactly the keys of the sheet, teaches each step once and before it refers to it, and says the same twice.
func TestGuideFollowsTheSheet(t *testing.T) {
	for _, name := range panel.Names() {
		for _, tag := range words.Tags() {
			s, p := panelOf(t, name)
			l := words.In(tag)
			sheet := keypad.Compile(s, p, nil, keypad.Options{Lang: l, ReadBack: true})
			g := Make(s, p, sheet, Options{Lang: l, Zones: all(sheet)})
			if again := Make(s, p, sheet, Options{Lang: l, Zones: all(sheet)}); !reflect.DeepEqual(g, again) {
				t.Errorf("%s: two runs differ", name)
			}
			if len(g.Chapters) != len(sheet.Zones) {
				t.Fatalf("%s: %d chapters of %d zones", name, len(g.Chapters), len(sheet.Zones))
			}
			taught := map[int]bool{}
			for i, c := range g.Chapters {
				var want, got []string
				for _, card := range sheet.Zones[i].Cards {
					want = append(want, card.Keys()...)
				}
				for _, st := range c.Steps {
					got = append(got, st.keys...)
					switch {
					case st.Told == Taught && taught[st.Lesson]:
						t.Errorf("%s: lesson %d is taught twice", name, st.Lesson)
					case st.Told == Taught:
						taught[st.Lesson] = true
						marked := map[string]bool{}
						for _, m := range st.Marks {
							marked[m.Key] = true
						}
						for _, key := range st.keys {
							if key != panel.Wait && !marked[key] {
								t.Errorf("%s: lesson %d does not mark %s", name, st.Lesson, key)
							}
						}
					default:
						for n := st.Lesson; n <= st.To; n++ {
							if !taught[n] {
								t.Errorf("%s: zone %s refers to lesson %d before it is taught", name, c.Zone, n)
							}
						}
					}
				}
				if !slices.Equal(want, got) {
					t.Errorf("%s: zone %s presses\n%v\nthe sheet\n%v", name, c.Zone, got, want)
				}
			}
			if len(taught) != g.Lessons {
				t.Errorf("%s: %d lessons, %d were taught", name, g.Lessons, len(taught))
			}
			at := 0
			for _, sc := range g.Scenes {
				if sc.Start != at || sc.Talk <= 0 || sc.Say == "" {
					t.Errorf("%s: scene %d begins at %d ms, want %d, and speaks %d ms", name, sc.N, sc.Start, at, sc.Talk)
				}
				at += sc.Talk + sc.Keys
			}
		}
	}
}

// One zone of each kind is enough to learn from: it is what is shown when nobody chooses.
func TestOneOfEachKind(t *testing.T) {
	s, p := panelOf(t, "ladder")
	sheet := keypad.Compile(s, p, nil, keypad.Options{})
	g := Make(s, p, sheet, Options{})
	seen := map[site.ZoneKind]bool{}
	for _, c := range g.Chapters {
		k := s.Zones[site.ZoneID(c.Zone)].Kind
		if seen[k] {
			t.Errorf("zone %s is the second of its kind, %s", c.Zone, k)
		}
		seen[k] = true
	}
	for id, z := range s.Zones {
		if !seen[z.Kind] {
			t.Errorf("nothing is shown of kind %s, zone %s", z.Kind, id)
		}
	}
}

// A zone that must not be keyed is named with its reason and without a key.
func TestStop(t *testing.T) {
	s, p := panelOf(t, "ladder")
	sheet := keypad.Compile(s, p, nil, keypad.Options{Stops: []keypad.Stop{{Zone: "09", Text: "It is a stop."}}})
	g := Make(s, p, sheet, Options{Zones: []site.ZoneID{"09"}})
	if len(g.Chapters) != 1 || len(g.Chapters[0].Steps) != 0 || !slices.Equal(g.Chapters[0].Stops, []string{"It is a stop."}) {
		t.Errorf("%+v", g.Chapters)
	}
	if script := Script(g); !strings.Contains(strings.Join(strings.Fields(script), " "), "It must not be keyed: It is a stop.") {
		t.Error("the script does not say it")
	}
}

func TestMarks(t *testing.T) {
	got := marks([]string{"2", "2", panel.Wait, "2", "7", "2", "0", "2", "2", "0", "1", "2", "OK"})
	// The wait is no key and has no place: 2 is pressed at 1-3, 5, 7-8 and 11, which is too long for a key.
	want := []Mark{{"2", "7 ×"}, {"7", "4"}, {"0", "6,9"}, {"1", "10"}, {"OK", "12"}}
	if !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
}

type cue struct {
	from, to int
	lines    []string
}

var timing = regexp.MustCompile(`^(\d\d+):(\d\d):(\d\d)\.(\d{3}) --> (\d\d+):(\d\d):(\d\d)\.(\d{3})$`)

// readVTT reads captions as the standard has it: a header, then blocks between empty lines; a block with an arrow in its
// first or second line is a cue.
func readVTT(t interface {
	Helper()
	Fatalf(string, ...any)
}, text string,
) []cue {
	t.Helper()
	blocks := strings.Split(strings.TrimSuffix(text, "\n"), "\n\n")
	if blocks[0] != "WEBVTT" {
		t.Fatalf("the header is %q", blocks[0])
	}
	var out []cue
	for _, block := range blocks[1:] {
		lines := strings.Split(block, "\n")
		if lines[0] == "NOTE" {
			if strings.Contains(block, "-->") {
				t.Fatalf("an arrow in a note: %q", block)
			}
			continue
		}
		if lines[0] != strconv.Itoa(len(out)+1) || len(lines) < 3 {
			t.Fatalf("no cue: %q", block)
		}
		m := timing.FindStringSubmatch(lines[1])
		if m == nil {
			t.Fatalf("no times: %q", lines[1])
		}
		ms := func(at int) int {
			var v [4]int
			for i := range v {
				v[i], _ = strconv.Atoi(m[at+i])
			}
			return ((v[0]*60+v[1])*60+v[2])*1000 + v[3]
		}
		c := cue{from: ms(1), to: ms(5)}
		for _, line := range lines[2:] {
			if strings.ContainsAny(line, "<>") {
				t.Fatalf("a tag or an arrow in a cue: %q", line)
			}
			c.lines = append(c.lines, html.UnescapeString(line))
		}
		out = append(out, c)
	}
	return out
}

// checkCues holds what captions promise: in order, none over another, at most two lines of 42 characters.
func checkCues(t interface {
	Helper()
	Fatalf(string, ...any)
}, cues []cue,
) {
	t.Helper()
	last := 0
	for i, c := range cues {
		if c.from < last || c.to <= c.from {
			t.Fatalf("cue %d is from %d to %d ms, the one before ended at %d", i+1, c.from, c.to, last)
		}
		last = c.to
		if len(c.lines) > 2 {
			t.Fatalf("cue %d has %d lines", i+1, len(c.lines))
		}
		for _, line := range c.lines {
			if n := len([]rune(line)); n > 42 || n == 0 {
				t.Fatalf("cue %d has a line of %d characters: %q", i+1, n, line)
			}
		}
	}
}

func TestCaptions(t *testing.T) {
	for _, name := range panel.Names() {
		for _, tag := range words.Tags() {
			s, p := panelOf(t, name)
			l := words.In(tag)
			sheet := keypad.Compile(s, p, nil, keypad.Options{Lang: l, ReadBack: true})
			g := Make(s, p, sheet, Options{Lang: l, Reader: Customer})
			cues := readVTT(t, Captions(g))
			checkCues(t, cues)
			if end := g.end(); len(cues) == 0 || cues[len(cues)-1].to != end {
				t.Errorf("%s: the last cue does not end with the guide, at %d ms", name, end)
			}
		}
	}
}

// Whatever people write into labels and names, the captions keep their form and say every word of the script in its order.
func TestCaptionsOfAnything(t *testing.T) {
	text := rapid.StringOf(rapid.OneOf(rapid.SampledFrom([]rune(" .?!&<>-\n\r\t\x00ä漢")), rapid.Rune()))
	rapid.Check(t, func(t *rapid.T) {
		var g Course
		g.Title, g.Name = text.Draw(t, "title"), text.Draw(t, "name")
		at := 0
		var want strings.Builder
		for i := range rapid.IntRange(0, 4).Draw(t, "scenes") {
			s := Scene{N: i + 1, Start: at, Say: text.Draw(t, "say"), Keys: 700 * rapid.IntRange(0, 3).Draw(t, "keys"), Press: []keypad.Cap{{Key: "OK", Times: 1}}}
			s.Talk = spoken(s.Say)
			at += s.Talk + s.Keys
			g.Scenes = append(g.Scenes, s)
			want.WriteString(clean(s.Say))
			if s.Keys > 0 {
				want.WriteString("Press: [OK]")
			}
		}
		cues := readVTT(t, Captions(g))
		checkCues(t, cues)
		var got strings.Builder
		for _, c := range cues {
			got.WriteString(strings.Join(c.lines, ""))
		}
		bare := func(s string) string { return strings.Join(strings.Fields(s), "") }
		if w := bare(want.String()); bare(got.String()) != w {
			t.Fatalf("%q\nwant %q", bare(got.String()), w)
		}
	})
}

// A toggle of which nothing is known is turned until the answer stands there: in the steps, spoken, in captions and on paper, in
// both languages, and nowhere a number of turns.
func TestTogglesAreNotCounted(t *testing.T) {
	raw, err := os.ReadFile("../../panel/testdata/wicket.yaml")
	if err != nil {
		t.Fatal(err)
	}
	p, err := panel.Decode("wicket.yaml", raw)
	if err != nil {
		t.Fatal(err)
	}
	s := keypadtest.Site(3, p)
	for lang, want := range map[string]struct{ until, caution string }{
		"en": {"TURN until ", "turn with TURN until the display shows "},
		"de": {"TURN bis ", "mit TURN drehen, bis die Anzeige "},
	} {
		l := words.In(lang)
		g := Make(s, p, keypad.Compile(s, p, nil, keypad.Options{Lang: l, ReadBack: true}), Options{Lang: l})
		toggles := 0
		for _, c := range g.Chapters {
			for _, st := range c.Steps {
				for _, cap := range st.Press {
					switch {
					case cap.Key == "TURN" && (cap.Until == "" || cap.Times != 1):
						t.Errorf("%s: %+v", lang, cap)
					case cap.Key == "TURN":
						toggles++
					}
				}
			}
		}
		script, captions := Script(g), strings.Join(strings.Fields(Captions(g)), " ")
		for name, text := range map[string]string{"script": strings.Join(strings.Fields(script), " "), "captions": captions} {
			if toggles == 0 || !strings.Contains(text, strings.Replace(want.until, "TURN", "[TURN]", 1)) || !strings.Contains(text, want.until) || !strings.Contains(text, want.caution) {
				t.Errorf("%s, %s: %d toggles", lang, name, toggles)
			}
			if strings.Contains(text, "TURN]x") || strings.Contains(text, "TURN twice") || strings.Contains(text, "TURN, TURN") {
				t.Errorf("%s, %s: turns are counted", lang, name)
			}
		}
	}
}
