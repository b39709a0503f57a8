package site_test

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"proofbell/site"
)

// The label of the bridge reads BR 00101 3; the other texts are what a keyboard, a code or a tired eye makes of it.
func TestReadIdentity(t *testing.T) {
	for text, want := range map[string]string{
		"BR001013":                              "BR001013",
		" br 00101 3 ":                          "BR001013",
		"BR-00101-3":                            "BR001013",
		"br.001.013":                            "BR001013",
		"BROO1O13":                              "BR001013", // O for 0
		"BR00I0l3":                              "BR001013", // I and l for 1
		"8R001013":                              "BR001013", // 8 for B, because BR is a family
		"C0 00139 0":                            "CO001390",
		"5D 00122 8":                            "SD001228",
		"https://label.example/t?id=BR001013":   "BR001013",
		"TYPE AB123456 ID BR 00101 3 REV 7":     "BR001013", // AB is no family: the one that passes goes first
		"ID: SD002743":                          "SD002743", // fails its check digit and is read all the same
		"BR001013\r\nMADE 2024-05":              "BR001013",
		"XBR001013":                             "XBR001013", // another form stays as typed
		"":                                      "",
		"  --  ":                                "",
		"BR0010":                                "BR0010",
		strings.Repeat("no identity here ", 20): "",
	} {
		if got := site.ReadIdentity(text, 0, 0); got != want {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
	if got := site.ReadIdentity("abc 1234 567", 3, 7); got != "ABC1234567" {
		t.Errorf("three letters, seven digits: %q", got)
	}
}

func TestGroupIdentity(t *testing.T) {
	for id, want := range map[string]string{
		"BR001013": "BR 00101 3", "SD002743": "SD 00274 3", "XY1234": "XY 1234", "45001013": "45001013", "wired": "wired", "": "",
	} {
		if got := site.GroupIdentity(id); got != want {
			t.Errorf("%q: %q, want %q", id, got, want)
		}
	}
}

func TestDifferingPlaces(t *testing.T) {
	for _, c := range []struct {
		read, meant string
		places      []int
		swapped     bool
	}{
		{"SD002743", "SD002473", []int{5, 6}, true}, // trade: 4 and 7 change places
		{"SD002473", "SD002473", nil, false},
		{"SD002479", "SD002473", []int{7}, false},
		{"SD302470", "SD002473", []int{2, 7}, true}, // not neighbours, still each in the other's place
		{"SD902478", "SD002473", []int{2, 7}, false},
		{"SD00247", "SD002473", nil, false},
	} {
		if places, swapped := site.DifferingPlaces(c.read, c.meant); !slices.Equal(places, c.places) || swapped != c.swapped {
			t.Errorf("%s for %s: %v %v", c.read, c.meant, places, swapped)
		}
	}
}

// However a label is spaced and cased, it is read as what it says; grouping never changes what is read.
func TestReadIdentityUndoesGrouping(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		id := rapid.SampledFrom([]string{"DC", "MO", "GB", "BR", "SD", "HD", "CO", "FB", "WP", "TS", "PB"}).Draw(t, "family") + rapid.StringMatching(`[0-9]{6}`).Draw(t, "digits")
		text := ""
		for _, r := range rapid.SampledFrom([]string{id, strings.ToLower(id), site.GroupIdentity(id)}).Draw(t, "as") {
			text += rapid.SampledFrom([]string{"", "", " ", "-"}).Draw(t, "gap") + string(r)
		}
		if got := site.ReadIdentity(text, 2, 6); got != id {
			t.Fatalf("%q read as %q", text, got)
		}
	})
}

func FuzzReadIdentity(f *testing.F) {
	for _, text := range []string{"BR 00101 3", "https://label.example/t?id=BR001013", "\xff\x00", "Ä8R", "TYPE AB123456 ID"} {
		f.Add(text, 2, 6)
	}
	f.Fuzz(func(t *testing.T, text string, letters, digits int) {
		if letters < 0 || digits < 0 || letters > 8 || digits > 32 {
			return
		}
		read := site.ReadIdentity(text, letters, digits)
		if strings.Trim(read, "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789") != "" {
			t.Fatalf("%q read as %q", text, read)
		}
		if again := site.ReadIdentity(read, letters, digits); again != read {
			t.Fatalf("%q read as %q, and that as %q", text, read, again)
		}
	})
}
