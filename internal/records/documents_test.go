package records_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"image"
	"image/png"
	"os"
	"os/exec"
	"regexp"
	"strings"
	"testing"
	"time"

	"proofbell/demo"
	"proofbell/evidence"
	"proofbell/internal/book"
	"proofbell/internal/book/booktest"
	"proofbell/internal/engine"
	"proofbell/internal/papers"
	"proofbell/internal/prove"
	"proofbell/internal/records"
	"proofbell/internal/words"
	"proofbell/signal"
	"proofbell/site"
)

var noon = time.Date(2026, 9, 15, 16, 0, 0, 0, time.UTC)

const passcode = "Heron-7731"

// keeper is a job book with its fold.
type keeper struct {
	*booktest.Keeper
	state *book.State
}

func keep(t testing.TB, s *site.Site) *keeper {
	t.Helper()
	k := &keeper{Keeper: booktest.Keep(t, s, noon)}
	k.state = book.New(k.Job)
	k.state.Apply(book.WithKey(k.Key), k.Entries...)
	return k
}

func (k *keeper) add(kind evidence.Kind, body, private any) evidence.Entry {
	k.T.Helper()
	e := k.Add(kind, body, private)
	k.state.Apply(book.WithKey(k.Key), e)
	return e
}

// paper is a document as it would be issued.
func (k *keeper) paper(kind, lang, units string) papers.Paper {
	k.T.Helper()
	of, ok := papers.Find(kind)
	if !ok {
		k.T.Fatalf("no document %s", kind)
	}
	p, err := engine.NewDesk(k.state.Clone(), 0).In(words.In(lang)).Paper(of, noon, units)
	k.Must(err)
	p.Pin.Mark = k.Key.Mark(p.Pin.String())
	return p
}

func mill(t testing.TB) *site.Site {
	t.Helper()
	s, err := site.DecodeYAML("demo", demo.Corrected)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// worked is the practice job after a run, with secrets lying about in everything that no document shows.
func worked(t testing.TB) *keeper {
	t.Helper()
	k := keep(t, mill(t))
	run := prove.RunID(k.add(evidence.KindRun, prove.RunBody{Act: prove.RunOpened, Account: "4816"}, nil).ID)
	families := []string{"fire", "trouble"}
	k.add(evidence.KindOnTest, prove.OnTestBody{WindowEvent: prove.WindowEvent{Act: prove.ActCall, Account: "4816", Families: families}}, prove.Private{Words: "passcode " + passcode})
	k.add(evidence.KindOnTest, prove.OnTestBody{WindowEvent: prove.WindowEvent{Act: prove.ActAccountRead, Account: "4816", Address: true}}, nil)
	k.add(evidence.KindOnTest, prove.OnTestBody{WindowEvent: prove.WindowEvent{Act: prove.ActOpen, Families: families, Until: noon.Add(2 * time.Hour)}}, prove.Private{Operator: "Ferrant", Reference: "CR-4101"})
	k.add(evidence.KindOnTest, prove.OnTestBody{WindowEvent: prove.WindowEvent{Act: prove.ActFirstSignal}}, nil)
	k.add(evidence.KindTick, prove.TickBody{Step: "11.alarm", What: prove.Tripped, Method: "aerosol"}, nil)
	for i, q := range []signal.Qualifier{signal.New, signal.Restore} {
		k.add(evidence.KindSignal, prove.SignalBody{
			Run: run, Receiver: "r", Row: int64(i + 1), Received: k.At.Add(1900 * time.Millisecond), Acknowledged: true,
			Event: signal.Event{Account: "4816", Format: signal.CID, Code: "111", Kind: "alarm", Family: "fire", Qualifier: q, Number: 11, NumberIs: signal.Zone, Area: 1},
		}, nil)
	}
	k.add(evidence.KindNote, book.NoteBody{About: "panel"}, book.NotePrivate{Text: "installer code 0000, passcode " + passcode})
	k.add(evidence.KindReveal, map[string]string{"what": "passcode"}, map[string]string{"code": passcode})
	k.add(evidence.KindReading, book.ReadingBody{About: "/devices/hall-smoke", What: "level", Value: 82.5, Unit: "dBA"}, nil)
	k.add(evidence.KindSign, book.SignBody{What: "commissioning", As: "owner"}, book.SignPrivate{Name: "Imelda Thrane", Strokes: [][][2]int{{{100, 200}, {300, 40}, {500, 260}, {900, 100}}, {{40, 30}}}})
	return k
}

// read returns the text of a PDF by another program, page by page.
func read(t *testing.T, raw []byte) []string {
	t.Helper()
	pdftotext, err := exec.LookPath("pdftotext")
	if err != nil {
		t.Skip("pdftotext (poppler-utils) is not installed: the document is not read back")
	}
	cmd := exec.Command(pdftotext, "-layout", "-", "-")
	cmd.Stdin = bytes.NewReader(raw)
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	return strings.Split(strings.TrimSuffix(string(out), "\f"), "\f")
}

var (
	forbidden = regexp.MustCompile(`(?i)\b(compliant|compliance|safe|safely|protected|konform|normgerecht|geschützt|sicher|sichere|sicherer)\b`)
	hashes    = regexp.MustCompile(`[0-9a-f-]{16,}`)
	firsts    = regexp.MustCompile(`(?m)^ {0,3}(\d\d) {2,}`) // of a table: the next column is further away than a word
)

// Every document, in both languages and on both papers: the same bytes twice, read back by another program.
func TestEveryDocument(t *testing.T) {
	k := worked(t)
	tables := map[string]bool{"owner-guide": true, "zone-list": true}
	for _, kind := range papers.Kinds() {
		for i, lang := range []string{"en", "de"} {
			sheet, units := [2]string{"A4", "Letter"}[i], [2]string{"metric", "imperial"}[i]
			name := kind.ID + " " + lang
			p := k.paper(kind.ID, lang, units)
			first, err := records.PDF(p, records.Options{Sheet: sheet, Signer: strings.Repeat("cd", 32)})
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			again, err := records.PDF(k.paper(kind.ID, lang, units), records.Options{Sheet: sheet, Signer: strings.Repeat("cd", 32)})
			if err != nil || !bytes.Equal(first, again) {
				t.Errorf("%s: two runs of one state differ (%v)", name, err)
			}
			if !bytes.Contains(first, []byte(p.Pin.String())) {
				t.Errorf("%s: the file does not carry its pin", name)
			}
			pages := read(t, first)
			text := strings.Join(pages, "\n")
			for n, page := range pages {
				stamp, of := p.Practice, strings.NewReplacer("{n}", fmt.Sprint(n+1), "{pages}", fmt.Sprint(len(pages))).Replace(p.Frame.Page)
				if !strings.Contains(page, stamp) || !strings.Contains(page, of) || !strings.Contains(page, p.Frame.Entry) {
					t.Errorf("%s: page %d does not say %q, %q and its entry", name, n+1, stamp, of)
				}
			}
			if found := forbidden.FindString(text); found != "" {
				t.Errorf("%s promises: %q", name, found)
			}
			if strings.Contains(text, passcode) || strings.Contains(text, "7731") || strings.Contains(text, "0000,") {
				t.Errorf("%s shows a secret", name)
			}
			if tables[kind.ID] {
				seen := map[string]int{}
				for _, m := range firsts.FindAllStringSubmatch(text, -1) {
					seen[m[1]]++
				}
				for id := range k.state.Site.Zones {
					if seen[string(id)] != 1 {
						t.Errorf("%s: zone %s begins %d lines", name, id, seen[string(id)])
					}
				}
			}
			if kind.For == papers.Station && kind.ID != "station-contacts" && strings.Contains(text, "555-0131") {
				t.Errorf("%s: the number of a contact stands beside the zones", name)
			}
			if kind.ID == "station-contacts" && strings.Contains(text, "Lounge smoke") {
				t.Error("a zone stands beside the contacts")
			}
		}
	}
}

// A page tells its table's head again, rows stay whole, and no page holds a single row of a table.
func TestLongTables(t *testing.T) {
	p := papers.Paper{Kind: "zone-list", Title: "Zone list", Name: "A house", Frame: papers.Frame{Page: "Page {n} of {pages}", States: make([]string, 5)}}
	table := papers.Table{Head: []string{"Zone", "Label", "Remarks"}, Widths: []float64{1, 3, 3}}
	for i := range 300 {
		table.Rows = append(table.Rows, []string{fmt.Sprintf("%03d", i), fmt.Sprintf("LABEL-%03d", i), fmt.Sprintf("BEGIN-%03d %s END-%03d", i, strings.Repeat("more to say about it ", i%9), i)})
	}
	table.Rows = append(table.Rows, []string{"999", "LABEL-999", strings.Repeat("a row higher than a page ", 1500)})
	p.Sections = []papers.Section{{ID: "zones", Title: "Zones", Table: &table}}
	raw, err := records.PDF(p, records.Options{})
	if err != nil {
		t.Fatal(err)
	}
	pages := read(t, raw)
	for n, page := range pages {
		if strings.Contains(page, "LABEL-") && !strings.Contains(page, "Remarks") {
			t.Errorf("page %d has rows without a head", n+1)
		}
		for i := range 300 {
			begins, ends := strings.Contains(page, fmt.Sprintf("BEGIN-%03d", i)), strings.Contains(page, fmt.Sprintf("END-%03d", i))
			if begins != ends {
				t.Errorf("row %d is divided by the end of page %d", i, n+1)
			}
		}
	}
	if strings.Count(strings.Join(pages, ""), "LABEL-2") != 100 {
		t.Error("rows were lost")
	}
}

// However long the table is, its last rows go with the lines that close the document.
func TestClosingLinesAreNeverAlone(t *testing.T) {
	for n := 30; n < 56; n++ { // a page holds about fifty
		p := papers.Paper{Kind: "zone-list", Title: "Zone list", Name: "A house", Frame: papers.Frame{Page: "Page {n} of {pages}", Pinned: strings.Repeat("made from the book ", 9), States: make([]string, 5)}}
		p.Pin.Mark = "0123456789abcdef"
		table := papers.Table{Head: []string{"Zone", "Label"}, Widths: []float64{1, 3}}
		for i := range n {
			table.Rows = append(table.Rows, []string{fmt.Sprint(i), "LABEL"})
		}
		p.Sections = []papers.Section{{ID: "zones", Title: "Zones", Table: &table}}
		raw, err := records.PDF(p, records.Options{Signer: strings.Repeat("cd", 32)})
		if err != nil {
			t.Fatal(err)
		}
		pages := read(t, raw)
		if last := pages[len(pages)-1]; !strings.Contains(last, "LABEL") || !strings.Contains(last, "mark 0123") {
			t.Errorf("%d rows: the last page holds\n%s", n, last)
		}
	}
}

// One batch is one line: each battery stands in it once, by name, and in the calendar as a date of its own.
func TestWhatFallsDueStandsTogether(t *testing.T) {
	p := worked(t).paper("due-dates", "en", "metric")
	table := p.Sections[1].Table
	lines, batteries := 0, 0
	for _, row := range table.Rows {
		if strings.HasPrefix(row[0], "New batter") {
			lines++
		}
	}
	for _, d := range p.Dates {
		if d.Kind != "battery" {
			continue
		}
		batteries++
		in := 0
		for _, row := range table.Rows {
			if strings.HasPrefix(row[0], "New batter") && strings.Contains(row[0], d.Name) {
				in++
			}
		}
		if in != 1 {
			t.Errorf("%s stands in %d lines", d.Name, in)
		}
	}
	// The practice house was fitted with batteries of 3, 4 and 5 years in one month.
	if lines != 3 || batteries < 20 {
		t.Errorf("%d batteries in %d lines", batteries, lines)
	}
}

func TestPhotographs(t *testing.T) {
	var picture bytes.Buffer
	if err := png.Encode(&picture, image.NewGray(image.Rect(0, 0, 40, 30))); err != nil {
		t.Fatal(err)
	}
	k := worked(t)
	for about, media := range map[string]string{"/heads/M9": "image/png", "/panel": "image/jpeg", "/devices/hall-smoke": "image/webp"} {
		k.add(evidence.KindBlob, book.BlobBody{Address: strings.Repeat("ab", 32), Media: media, About: about, Name: "Foto von " + about}, nil)
	}
	p := k.paper("commissioning", "en", "")
	for _, photo := range []func(string) []byte{nil, func(string) []byte { return picture.Bytes() }, func(string) []byte { return picture.Bytes()[:60] }} {
		raw, err := records.PDF(p, records.Options{Photo: photo})
		if err != nil {
			t.Fatal(err)
		}
		text := strings.Join(read(t, raw), "\n")
		printed := 0
		if photo != nil && len(photo("")) > 60 {
			printed = 1 // the bytes are a PNG, whatever the book says of the others
		}
		if n := strings.Count(text, "This photograph can not be"); n != 3-printed {
			t.Errorf("%d places say that they can not be printed, want %d", n, 3-printed)
		}
		for _, shown := range []string{"Head M9, Guest room Rowan, 2026", "Panel, 2026", "12 Hall smoke, Entrance hall and stair, 2026"} {
			if !strings.Contains(text, shown) {
				t.Errorf("no photograph says that it shows %s", shown)
			}
		}
	}
}

// A signature under a document is of the job as it is; after a change it has to be given again.
func TestSignaturesAndChanges(t *testing.T) {
	k := worked(t)
	before := k.paper("commissioning", "en", "")
	if s := before.Signs[1]; s.Name != "Imelda Thrane" || s.Old || len(s.Strokes) != 2 {
		t.Errorf("owner's signature: %+v", s)
	}
	k.add(evidence.KindIssued, book.IssuedBody{What: "zone-list", For: "station", Seq: k.state.Seq, Day: "2026-09-15"}, nil)
	if p := k.paper("zone-list", "en", ""); len(p.Changed) != 0 || p.Sections[0].Text[0] != "None." {
		t.Errorf("nothing was changed, yet: %v", p.Changed)
	}
	k.add(evidence.KindEdit, book.EditBody{Patch: json.RawMessage(`{"zones":{"12":{"label":"Entrance hall smoke"},"33":null},"account":{"liveFrom":"2026-09-20"}}`)}, nil)
	p := k.paper("zone-list", "en", "")
	want := []string{"Zone 12, Label as spoken: Entrance hall smoke, before: Hall smoke", "Zone 33: no longer: Office smoke, Fire, 1 Guesthouse, Office, panel cupboard, Ground floor, 111, yes, house internet, mobile"}
	if fmt.Sprint(p.Changed) != fmt.Sprint(want) {
		t.Errorf("changes:\n%s\nwant:\n%s", strings.Join(p.Changed, "\n"), strings.Join(want, "\n"))
	}
	if p.Sections[0].ID != "changes" || !strings.Contains(p.Sections[0].Title, "2026-09-15") {
		t.Errorf("the changes do not stand on top: %+v", p.Sections[0])
	}
	if s := k.paper("commissioning", "en", "").Signs[1]; s.Name != "" || !s.Old {
		t.Errorf("a signature outlived the change: %+v", s)
	}
	if german := k.paper("zone-list", "de", ""); german.Changed[0] != "Zone 12, Bezeichnung wie gesprochen: Entrance hall smoke, vorher: Hall smoke" {
		t.Errorf("in German: %v", german.Changed)
	}
}

func TestAnEmptyJob(t *testing.T) {
	k := keep(t, &site.Site{Format: site.Format, Name: "A house"})
	for _, kind := range papers.Kinds() {
		p := k.paper(kind.ID, "de", "")
		if _, err := records.PDF(p, records.Options{}); err != nil {
			t.Errorf("%s: %v", kind.ID, err)
		}
		if kind.ID != "existing-alarms" && len(p.Missing) == 0 {
			t.Errorf("%s of an empty job lacks nothing", kind.ID)
		}
	}
}

// Two short documents, word for word as another program reads them. A golden file changes by a difference that someone read.
func TestGoldenDocuments(t *testing.T) {
	k := worked(t)
	for _, name := range []string{"station-contacts.en", "existing-alarms.de"} {
		kind, lang, _ := strings.Cut(name, ".")
		golden(t, name, k.paper(kind, lang, ""))
	}
}

// golden holds a document against its file.
func golden(t *testing.T, name string, paper papers.Paper) {
	t.Helper()
	raw, err := records.PDF(paper, records.Options{})
	if err != nil {
		t.Fatal(err)
	}
	var lines []string
	for _, line := range strings.Split(strings.Join(read(t, raw), "\n"), "\n") {
		if line = strings.Join(strings.Fields(line), " "); line != "" {
			lines = append(lines, hashes.ReplaceAllString(line, "HEX"))
		}
	}
	path, got := "testdata/"+name+".txt", strings.Join(lines, "\n")+"\n"
	want, err := os.ReadFile(path)
	if os.Getenv("PROOFBELL_GOLDEN") != "" {
		err = os.WriteFile(path, []byte(got), 0o644)
		want = []byte(got)
	}
	if err != nil || got != string(want) {
		t.Errorf("%s (%v) reads:\n%s", path, err, got)
	}
}
