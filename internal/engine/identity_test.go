package engine

import (
	"slices"
	"strings"
	"testing"

	"proofbell/demo"
	"proofbell/internal/book"
	"proofbell/internal/words"
	"proofbell/site"
)

func deskOf(t *testing.T, yaml []byte, change func(*site.Site)) *Desk {
	t.Helper()
	s, err := site.DecodeYAML("demo", yaml)
	if err != nil {
		t.Fatal(err)
	}
	if change != nil {
		change(s)
	}
	state := book.New("01928f5e-3c00-7000-8000-000000000001")
	state.Site = s
	return NewDesk(state, 0)
}

func TestIdentityHeldAgainstThePlan(t *testing.T) {
	draft, mill := deskOf(t, demo.Draft, nil), deskOf(t, demo.Corrected, nil)
	for _, c := range []struct {
		name string
		desk *Desk
		arg  IdentityArg
		want IdentityRead // Say holds what must stand first
	}{
		{
			"as planned, as the label prints it", mill,
			IdentityArg{Text: "br 00101 3", Zone: "09"},
			IdentityRead{Identity: "BR001013", Shown: "BR 00101 3", Check: IdentityRight, Same: true, Say: []string{"It is the planned identity."}},
		},
		{
			"heard as planned: Y keeps it", mill,
			IdentityArg{Text: "BR001013", Zone: "09", Heard: true},
			IdentityRead{Identity: "BR001013", Shown: "BR 00101 3", Check: IdentityRight, Same: true, Say: []string{"It is the planned identity."}, Press: []string{"999", "OK"}},
		},
		{
			// The trade's planted slip: SD002473 on the label, 7 and 4 swapped in the draft.
			"the plan is the one that is wrong", draft,
			IdentityArg{Text: "SD002473", Zone: "12"},
			IdentityRead{
				Identity: "SD002473", Shown: "SD 00247 3", Check: IdentityRight, Keep: true, Marks: []int{6, 7},
				Say: []string{"Planned is SD 00274 3. Swapped: digit 4 and digit 5.", "The check digit is right.", "The planned one fails its check digit: it may be the one that is mistaken."},
			},
		},
		{
			"swapped while typing", mill,
			IdentityArg{Text: "SD 00274 3", Zone: "12"},
			IdentityRead{
				Identity: "SD002743", Shown: "SD 00274 3", Check: IdentityWrong, Marks: []int{6, 7},
				Say:    []string{"Planned is SD 00247 3. Swapped: digit 4 and digit 5.", "The check digit is wrong: no device has this identity."},
				Likely: []LikelyIdentity{{"SD002473", "SD 00247 3", "as planned"}},
			},
		},
		{
			"another device of the job was heard: refuse", mill,
			IdentityArg{Text: "SD001228", Zone: "12", Heard: true},
			IdentityRead{
				Identity: "SD001228", Shown: "SD 00122 8", Check: IdentityRight, Refuse: true, Press: []string{"66", "OK"}, Marks: []int{5, 6, 7, 9},
				Say: []string{"It is the identity of zone 11, Landing smoke.", "Planned is SD 00247 3.", "The check digit is right."},
			},
		},
		{
			// CO001390 stands at zones 17 and 22 of the draft; by its letters it is 17's.
			"one identity twice", draft,
			IdentityArg{Text: "C0 00139 0", Zone: "22"},
			IdentityRead{Identity: "CO001390", Shown: "CO 00139 0", Check: IdentityRight, Same: true, Say: []string{"It is planned for zone 17, Boiler carbon monoxide as well. The panel can not tell two of them apart.", "It is the planned identity.", "The check digit is right."}},
		},
		{
			"the letters of another model", mill,
			IdentityArg{Text: "MO 00118 0", Zone: "12"},
			IdentityRead{Identity: "MO001180", Shown: "MO 00118 0", Check: IdentityRight, Marks: []int{0, 1, 5, 6, 7, 9}},
		},
		{
			"half typed", mill,
			IdentityArg{Text: "BR 0010", Zone: "09"},
			IdentityRead{Identity: "BR0010", Shown: "BR 0010", Check: IdentityPart, Say: []string{"BR 0010 is no identity yet: want 2 letters and 6 digits."}},
		},
		{"nothing", mill, IdentityArg{Text: "made in the mill, with care and patience", Zone: "09"}, IdentityRead{Check: IdentityNone}},
		{
			"a device that is not there yet", mill,
			IdentityArg{Text: "SD 00484 2X"},
			IdentityRead{Identity: "SD004842X", Shown: "SD 004842X", Check: IdentityPart},
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := c.desk.ReadIdentity(c.arg)
			if got.Identity != c.want.Identity || got.Shown != c.want.Shown || got.Check != c.want.Check || got.Same != c.want.Same || got.Keep != c.want.Keep || got.Refuse != c.want.Refuse {
				t.Errorf("%+v", got)
			}
			if !slices.Equal(got.Marks, c.want.Marks) && len(got.Marks)+len(c.want.Marks) > 0 {
				t.Errorf("marks %v", got.Marks)
			}
			if n := len(c.want.Say); n > len(got.Say) || !slices.Equal(got.Say[:n], c.want.Say) {
				t.Errorf("says %q", got.Say)
			}
			if !slices.Equal(got.Press, c.want.Press) && len(got.Press)+len(c.want.Press) > 0 {
				t.Errorf("press %q", got.Press)
			}
			if c.want.Likely != nil && !slices.Equal(got.Likely, c.want.Likely) {
				t.Errorf("likely %+v", got.Likely)
			}
		})
	}
}

// A panel that knows only digits shows the number of the family: 45 is BR (trade: 4500 and 1013).
func TestIdentityInDigits(t *testing.T) {
	d := deskOf(t, demo.Corrected, func(s *site.Site) { s.Panel.Profile = "pigeonhole" })
	got := d.ReadIdentity(IdentityArg{Text: "4500 1013", Zone: "09"})
	if got.Identity != "BR001013" || !got.Same || got.Listens || len(got.Press) > 0 {
		t.Errorf("%+v", got)
	}
}

// Two swapped digits that no device of the plan explains are proposed by their place.
func TestLikelyIdentity(t *testing.T) {
	d := deskOf(t, demo.Corrected, nil)
	got := d.ReadIdentity(IdentityArg{Text: "HD 00518 1"}) // HD001581 is zone 14's; HD005181: 18 for 81 and so on
	for _, one := range got.Likely {
		if !site.CheckIdentity(one.Identity).Good || !strings.HasPrefix(one.Say, "swapped: ") {
			t.Errorf("%+v", one)
		}
	}
	if got.Check != IdentityWrong || got.Keep {
		t.Errorf("%+v", got)
	}
	if german := d.In(words.In("de")).ReadIdentity(IdentityArg{Text: "SD 00274 3", Zone: "12", Heard: true}); german.Say[0] != "Geplant ist SD 00247 3. Vertauscht: Ziffer 4 und Ziffer 5." || !german.Refuse {
		t.Errorf("%q", german.Say)
	}
}
