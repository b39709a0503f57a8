package book

import (
	"encoding/json"
	"strings"
	"testing"

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
