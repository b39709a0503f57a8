package upkeep

import (
	"slices"
	"strings"
	"testing"

	"proofbell/demo"
	"proofbell/internal/words"
	"proofbell/site"
)

func gaps(t Takeover) map[string]Gap {
	out := map[string]Gap{}
	for _, g := range t.Gaps {
		out[g.ID] = g
	}
	return out
}

// Nothing is known of a system of which only the name is: every question is a gap, and someone can close each.
func TestTakeOverOfNothing(t *testing.T) {
	got := TakeOver(readSite(t, "name: Unknown\n"), false, nil)
	want := []string{"authority", "account-owner", "hosted-owner", "installer-code", "remote-access", "old-codes", "destinations", "read-back", "panel-battery", "head-dates", "proof"}
	var have []string
	for _, g := range got.Gaps {
		have = append(have, g.ID)
		if g.WhoSay == "" || g.Do == "" || g.Say == "" {
			t.Errorf("gap %+v", g)
		}
	}
	if !slices.Equal(have, want) {
		t.Errorf("gaps %v, want %v", have, want)
	}
}

// The draft of the practice building: its station reads another text for 16 and lacks 25; 9, 10, 11 and the rest agree.
func TestTakeOverOfTheMill(t *testing.T) {
	s := readSite(t, string(demo.Draft))
	s.Takeover = site.Takeover{
		AccountOwner: "owner", HostedOwner: "none", Authority: "2026-09-10", InstallerCode: "default", RemoteAccess: "removed", OldCodes: "still-there", Destinations: "none",
	}
	g := gaps(TakeOver(s, true, nil))
	for id, severity := range map[string]string{"installer-code": "stop", "old-codes": "stop", "read-back": "fix"} {
		if g[id].Severity != severity {
			t.Errorf("%s: %+v", id, g[id])
		}
	}
	if len(g) != 3 {
		t.Errorf("gaps: %v", g)
	}
	if say := g["read-back"].Say; !strings.Contains(say, "zones 16, 25") {
		t.Errorf("the station's list: %s", say)
	}
}

// Each symptom has causes and checks, in both languages, and what is asked of a device fits it.
func TestSymptoms(t *testing.T) {
	s := readSite(t, string(demo.Corrected))
	german := words.In("de")
	for i, sym := range Symptoms(s, "", nil) {
		own := Symptoms(s, "", german)[i]
		if len(sym.Causes) == 0 || len(sym.Checks) == 0 || own.Say == sym.Say {
			t.Errorf("%+v, %+v", sym, own)
		}
	}
	ids := func(d site.DeviceID) string {
		var out []string
		for _, sym := range Symptoms(s, d, nil) {
			out = append(out, sym.ID)
		}
		return strings.Join(out, " ")
	}
	if got := ids(s.Zones["09"].Device); !strings.Contains(got, "listener-silent") || strings.Contains(got, "swinging") || strings.Contains(got, "wired") {
		t.Errorf("a bridge: %s", got)
	}
	if got := ids("front-door"); !strings.Contains(got, "swinging") || strings.Contains(got, "smoke-false") {
		t.Errorf("a contact: %s", got)
	}
}
