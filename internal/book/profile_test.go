package book

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"proofbell/evidence"
	"proofbell/panel"
)

func ownLadder(t *testing.T, change func(*panel.Profile)) *panel.Profile {
	t.Helper()
	p, err := panel.Builtin("ladder")
	if err != nil {
		t.Fatal(err)
	}
	change(p)
	return p
}

func (w *writer) profile(b ProfileBody) evidence.Entry {
	w.t.Helper()
	return w.order(w.content(evidence.KindProfile, "tamsin", w.seq(), b, nil))
}

// A job's own profile counts until it is taken out; what was read out before was in other terms.
func TestOwnProfile(t *testing.T) {
	w := newWriter(t)
	w.readout(ReadoutBody{Panel: "ladder", Via: ViaRead, Zones: ZoneTable{"09": {"kind": "L"}}})
	before := w.fold()
	w.profile(ProfileBody{Profile: ownLadder(t, func(p *panel.Profile) { p.Version = "2.0" })})
	s := w.fold()
	if s.Profiles["ladder"] == nil || s.Profiles["ladder"].Version != "2.0" || len(s.Panel.Held) > 0 || len(s.Panel.Found) != 1 {
		t.Errorf("profiles %v, the panel holds %v", s.Profiles, s.Panel)
	}
	if len(before.Profiles) > 0 || before.Panel.Held["09"]["kind"] != "L" {
		t.Error("the state of before was changed")
	}
	if said := s.Log[len(s.Log)-1].Say.String(); said != "Panel profile ladder 2.0 taken in" {
		t.Errorf("the log says %q", said)
	}
	w.profile(ProfileBody{Withdrawn: "ladder"})
	if s := w.fold(); len(s.Profiles) > 0 {
		t.Errorf("taken out, and still there: %v", s.Profiles)
	}
}

// What was told in the terms of a profile that counts no more does not count, also when it comes late, and its tables as
// found lead nowhere.
func TestLateInTheTermsOfAnOldProfile(t *testing.T) {
	w := newWriter(t)
	w.readout(ReadoutBody{Panel: "ladder", Version: "1.0", Via: ViaRead, Zones: ZoneTable{"09": {"kind": "L"}}})
	w.profile(ProfileBody{Profile: ownLadder(t, func(p *panel.Profile) { p.Version = "2.0" })})
	late := w.content(evidence.KindKeying, "piet", 1, KeyingBody{Act: KeyingKept, Panel: "ladder", Zone: "09", Slots: slots{"kind": "S"}}, nil)
	w.order(late)
	w.order(w.content(evidence.KindReadout, "piet", 1, ReadoutBody{Panel: "ladder", Version: "1.0", Via: ViaRead, Zones: ZoneTable{"11": {"kind": "S"}}}, nil))
	if p := w.fold().Panel; len(p.Held) > 0 || len(p.Found) != 1 || !p.Found[0].Stale || p.Found[0].Version != "1.0" || len(p.Work) != 1 {
		t.Errorf("%+v", p)
	}
	w.readout(ReadoutBody{Panel: "ladder", Version: "2.0", Via: ViaRead, Zones: ZoneTable{"09": {"kind": "S"}}})
	if p := w.fold().Panel; len(p.Held) != 1 || p.Version != "2.0" || len(p.Found) != 2 || p.Found[1].Stale {
		t.Errorf("%+v", p)
	}
	// Another version, from the program itself, is in other terms as well; a late word of another panel is not of this one.
	w.readout(ReadoutBody{Panel: "ladder", Version: "2.1", Via: ViaRead, Zones: ZoneTable{"12": {"kind": "S"}}})
	branch := w.content(evidence.KindKeying, "piet", 1, KeyingBody{Act: KeyingKept, Panel: "branch", Zone: "05", Slots: slots{"kind": "HEAT"}}, nil)
	branch.At.Time = noon.Add(-time.Hour)
	w.order(branch)
	p := w.fold().Panel
	if _, known := p.Holds("09", "2.1"); known || p.Profile != "ladder" || p.Version != "2.1" {
		t.Errorf("%+v", p)
	}
	if got, known := p.Holds("12", "2.1"); !known || got["kind"] != "S" {
		t.Errorf("%+v", p)
	}
}

// A profile that can not program every zone is neither taken nor, where a book brings it, used.
func TestUnfitProfile(t *testing.T) {
	bad := ownLadder(t, func(p *panel.Profile) { delete(p.Dialogue.Nodes, "keep") })
	raw := func(b ProfileBody) string {
		out, err := json.Marshal(b)
		if err != nil {
			t.Fatal(err)
		}
		return string(out)
	}
	for body, want := range map[string]string{
		raw(ProfileBody{Profile: bad}):                         `"keep" is not a node`,
		raw(ProfileBody{}):                                     "want a profile",
		raw(ProfileBody{Withdrawn: "ladder"}):                  "",
		raw(ProfileBody{Profile: bad, Withdrawn: "ladder"}):    "want a profile",
		`{"profile":{"colour":"red"}}`:                         "colour",
		`{"withdrawn":"` + strings.Repeat("x", 1<<18+1) + `"}`: "at most",
	} {
		err := Check(evidence.Content{Kind: evidence.KindProfile, Body: json.RawMessage(body)})
		if (err == nil) != (want == "") || err != nil && !strings.Contains(err.Error(), want) {
			t.Errorf("%.60s: %v, want %q", body, err, want)
		}
	}
	w := newWriter(t)
	w.profile(ProfileBody{Profile: bad})
	if s := w.fold(); len(s.Profiles) > 0 || len(s.Troubles) != 1 {
		t.Errorf("profiles %v, troubles %v", s.Profiles, s.Troubles)
	}
	if why := Helper.May(w.fold(), "piet", evidence.KindProfile, nil, nil); why == "" {
		t.Error("a helper brings a panel profile")
	}
}
