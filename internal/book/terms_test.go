package book

import (
	"maps"
	"math/rand"
	"reflect"
	"slices"
	"testing"
	"time"

	"proofbell/evidence"
	"proofbell/panel"
	"proofbell/site"
)

// told is one entry about the panel, made some minutes after noon by somebody who had seen the first base entries.
type told struct {
	minute int
	base   int64
	body   any
}

func (w *writer) tell(by evidence.PersonID, one told) {
	w.t.Helper()
	kind := evidence.KindKeying
	if _, ok := one.body.(ReadoutBody); ok {
		kind = evidence.KindReadout
	}
	c := w.content(kind, by, one.base, one.body, nil)
	c.At.Time = noon.Add(time.Duration(one.minute) * time.Minute)
	w.order(c)
}

func keptIn(version string, zone site.ZoneID, kind string) KeyingBody {
	return KeyingBody{Act: KeyingKept, Panel: "ladder", Version: version, Zone: zone, Slots: slots{"kind": kind}}
}

func readIn(version string, zones ZoneTable) ReadoutBody {
	return ReadoutBody{Panel: "ladder", Version: version, Via: ViaRead, Zones: zones}
}

// What somebody keyed or read by a profile that was changed since is no reason to be certain of what was known before it came.
func TestOldTermsLeaveDoubt(t *testing.T) {
	old := readIn("1.0", ZoneTable{"09": {"kind": "S"}})
	whole := old
	whole.Whole = true
	for name, c := range map[string]struct {
		late  any
		doubt []site.ZoneID
	}{
		"keyed":             {keptIn("1.0", "09", "S"), []site.ZoneID{"09"}},
		"keyed, bare":       {keptIn("", "9", "S"), []site.ZoneID{"9"}},
		"another zone":      {keptIn("1.0", "12", "S"), []site.ZoneID{"12"}},
		"read out":          {old, []site.ZoneID{"09"}},
		"all of it":         {whole, []site.ZoneID{"09", "11"}},
		"of another panel":  {KeyingBody{Act: KeyingKept, Panel: "branch", Zone: "09", Slots: slots{"kind": "SMOKE"}}, nil},
		"nothing was keyed": {KeyingBody{Act: KeyingBegun}, nil},
	} {
		for _, minute := range []int{-60, 90} { // by a clock before what is known, and by one after it
			if name == "of another panel" && minute > 0 {
				continue // then there is another panel on the wall
			}
			w := newWriter(t)
			w.edit("phone", `{"format":"proofbell.site/1","panel":{"profile":"ladder"}}`)
			w.profile(ProfileBody{Profile: ownLadder(t, func(p *panel.Profile) { p.Version = "2.0" })})
			w.tell("tamsin", told{60, 2, readIn("2.0", ZoneTable{"09": {"kind": "S"}, "11": {"kind": "S"}})})
			w.tell("piet", told{minute, 1, c.late})
			p := w.fold().Panel
			if got := p.Doubted(); !slices.Equal(got, c.doubt) {
				t.Errorf("%s, %d min: in doubt %v, want %v", name, minute, got, c.doubt)
			}
			for _, zone := range []site.ZoneID{"09", "11"} {
				_, known := p.Holds(zone, "2.0")
				if want := !slices.ContainsFunc(c.doubt, func(z site.ZoneID) bool { return bare(z) == bare(zone) }); known != want {
					t.Errorf("%s, %d min: zone %s known %v", name, minute, zone, known)
				}
			}
			// Read out again, it is known.
			w.tell("tamsin", told{120, 4, readIn("2.0", ZoneTable{"09": {"kind": "V"}, "11": {"kind": "V"}, "12": {}})})
			if p = w.fold().Panel; len(p.Doubted()) > 0 || p.Held["09"]["kind"] != "V" {
				t.Errorf("%s, %d min: read out since, and in doubt %v", name, minute, p.Doubted())
			}
		}
	}
}

// Each zone is known in the version in which it was told, in whatever order the entries stand.
func TestEachZoneHasItsVersion(t *testing.T) {
	entries := []any{
		keptIn("1.0", "01", "D1"), keptIn("1.1", "02", "S"), readIn("1.0", ZoneTable{"03": {"kind": "P"}}),
		readIn("1.1", ZoneTable{"04": {"kind": "H"}, "05": {}}), keptIn("1.1", "06", "G"),
	}
	draw := rand.New(rand.NewSource(5))
	for range 60 {
		draw.Shuffle(len(entries), func(i, k int) { entries[i], entries[k] = entries[k], entries[i] })
		w := newWriter(t)
		w.edit("phone", `{"format":"proofbell.site/1","panel":{"profile":"ladder"}}`)
		for i, body := range entries {
			w.tell("piet", told{i, int64(i) + 1, body})
		}
		p := w.fold().Panel
		for version, want := range map[string]ZoneTable{
			"1.0": {"01": {"kind": "D1"}, "03": {"kind": "P"}},
			"1.1": {"02": {"kind": "S"}, "04": {"kind": "H"}, "05": {}, "06": {"kind": "G"}},
			"1.2": {},
		} {
			got := ZoneTable{}
			for _, zone := range []site.ZoneID{"01", "02", "03", "04", "05", "06", "07"} {
				if slots, known := p.Holds(zone, version); known {
					got[zone] = slots
				}
			}
			if !reflect.DeepEqual(got, want) {
				t.Fatalf("version %s: %v, want %v", version, got, want)
			}
		}
		if !p.Keyed("2", "1.1") || p.Keyed("02", "1.0") || p.Keyed("04", "1.1") || p.Keyed("07", "1.1") {
			t.Fatal("what was keyed")
		}
		for _, f := range p.Found {
			for _, other := range []site.ZoneID{"01", "03"} {
				if f.Version == "1.1" && f.Zones[other] != nil {
					t.Fatalf("a table of version 1.1 has zone %s of 1.0: %v", other, f.Zones)
				}
			}
		}
	}
}

// An entry of keying without a version means what it always did: the version that was told last, or the first that is told.
func TestKeyedWithoutAVersion(t *testing.T) {
	for name, c := range map[string]struct {
		bodies []any
		in     string
		known  bool
	}{
		"never told":       {[]any{keptIn("", "09", "S")}, "1.1", true},
		"told before":      {[]any{readIn("1.0", ZoneTable{"11": {}}), keptIn("", "09", "S")}, "1.0", true},
		"and it is old":    {[]any{readIn("1.0", ZoneTable{"11": {}}), keptIn("", "09", "S")}, "1.1", false},
		"told afterwards":  {[]any{keptIn("", "09", "S"), readIn("1.0", ZoneTable{"11": {}})}, "1.1", false},
		"told by a keying": {[]any{keptIn("1.1", "11", "S"), keptIn("", "09", "S")}, "1.1", true},
	} {
		w := newWriter(t)
		w.edit("phone", `{"format":"proofbell.site/1","panel":{"profile":"ladder"}}`)
		for i, body := range c.bodies {
			w.tell("piet", told{i, int64(i) + 1, body})
		}
		p := w.fold().Panel
		if _, known := p.Holds("09", c.in); known != c.known {
			t.Errorf("%s: known %v", name, known)
		}
	}
	// Keyed by two versions at once, without knowing of each other: not to be compared.
	w := newWriter(t)
	w.edit("phone", `{"format":"proofbell.site/1","panel":{"profile":"ladder"}}`)
	w.tell("tamsin", told{60, 1, keptIn("1.1", "09", "S")})
	w.tell("piet", told{0, 1, keptIn("1.0", "09", "S")})
	if p := w.fold().Panel; !slices.Equal(p.Doubted(), []site.ZoneID{"09"}) || p.Version != "1.1" {
		t.Errorf("%+v", p)
	}
}

// What was read before zones were keyed, and told after it, belongs to the table of before: it is not mixed with what was keyed.
func TestLateReadoutFindsItsTable(t *testing.T) {
	first, late := readIn("1.0", ZoneTable{"01": {"kind": "L"}}), readIn("1.0", ZoneTable{"02": {"kind": "P"}, "1": {"kind": "X"}})
	w := newWriter(t)
	w.edit("phone", `{"format":"proofbell.site/1","panel":{"profile":"ladder"}}`)
	w.tell("tamsin", told{0, 1, first})
	entry := w.fold().Panel.Found[0].Entry
	w.tell("tamsin", told{60, 2, keptIn("1.0", "01", "S")})
	w.tell("tamsin", told{61, 3, keptIn("1.0", "03", "S")})
	w.tell("piet", told{30, 1, late})
	f := w.fold().Panel.Found
	if len(f) != 1 || f[0].Entry != entry || !reflect.DeepEqual(f[0].Zones, ZoneTable{"01": {"kind": "L"}, "02": {"kind": "P"}}) || !slices.Equal(f[0].Read, []site.ZoneID{"01", "02"}) {
		t.Fatalf("%+v", f)
	}
	// What is read now is a table of its own, with what was keyed.
	w.tell("piet", told{90, 5, readIn("1.0", ZoneTable{"04": {}})})
	if f = w.fold().Panel.Found; len(f) != 2 || f[1].Zones["03"]["kind"] != "S" || f[1].Zones["04"] == nil || len(f[0].Zones) != 2 {
		t.Fatalf("%+v", f)
	}
	// Whoever knew of the keying reads what is there now, whatever the clock says.
	w.tell("piet", told{-30, 6, readIn("1.0", ZoneTable{"05": {}})})
	if f = w.fold().Panel.Found; len(f) != 2 || f[1].Zones["05"] == nil {
		t.Fatalf("%+v", f)
	}

	// Where nothing had been read before, the table has what was read and nothing of what was keyed; a table of all stays one.
	for _, whole := range []bool{false, true} {
		w = newWriter(t)
		w.edit("phone", `{"format":"proofbell.site/1","panel":{"profile":"ladder"}}`)
		w.tell("tamsin", told{60, 1, keptIn("1.0", "03", "S")})
		w.tell("tamsin", told{90, 2, readIn("1.0", ZoneTable{"04": {}})})
		body := readIn("1.0", ZoneTable{"02": {"kind": "P"}})
		body.Whole = whole
		w.tell("piet", told{30, 1, body})
		f = w.fold().Panel.Found
		if len(f) != 2 || f[0].By != "piet" || f[0].Whole != whole || !maps.EqualFunc(f[0].Zones, ZoneTable{"02": {"kind": "P"}}, maps.Equal) || f[1].Zones["03"] == nil {
			t.Fatalf("whole %v: %+v", whole, f)
		}
		w.tell("tamsin", told{95, 3, readIn("1.0", ZoneTable{"06": {}})})
		if f = w.fold().Panel.Found; len(f) != 2 || f[1].Zones["06"] == nil || len(f[0].Zones) != 1 {
			t.Fatalf("whole %v: %+v", whole, f)
		}
	}
}
