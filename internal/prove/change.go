package prove

import (
	"cmp"
	"reflect"
	"slices"
	"strings"

	"proofbell/internal/words"
)

// PlanChange is one difference between the plan that a run goes by and that of the site as it stands now.
type PlanChange struct {
	Step StepID `json:"step"`
	Kind string `json:"kind"` // new, gone, changed
	Say  string `json:"say"`
}

// PlanChanges lists what is different in now: new steps and changed ones in its order, then those that are gone. What only
// moves a step in the walking order is no change.
func PlanChanges(before, now []Step, lang *words.Language) []PlanChange {
	out := []PlanChange{}
	find := func(plan []Step, id StepID) int {
		return slices.IndexFunc(plan, func(s Step) bool { return s.ID == id })
	}
	for _, s := range now {
		i := find(before, s.ID)
		if i < 0 {
			out = append(out, PlanChange{s.ID, "new", lang.Say("New: %s.", inFull(s, lang))})
			continue
		}
		if say := changed(before[i], s, lang); say != "" {
			out = append(out, PlanChange{s.ID, "changed", inFull(before[i], lang) + ": " + say})
		}
	}
	for _, s := range before {
		if find(now, s.ID) < 0 {
			out = append(out, PlanChange{s.ID, "gone", lang.Say("No longer to be proved: %s.", inFull(s, lang))})
		}
	}
	return out
}

func inFull(s Step, lang *words.Language) string {
	if s.Kind == StepZone {
		return called(s, false, lang) + ", " + s.Title
	}
	return called(s, false, lang)
}

// changed says what is different about one step; "" nothing is.
func changed(a, b Step, lang *words.Language) string {
	var say []string
	if a.Title != b.Title {
		say = append(say, lang.Say("now called %s", b.Title))
	}
	if was, is := codes(a), codes(b); was != is {
		say = append(say, lang.Say("expects %s instead of %s", cmp.Or(is, "-"), cmp.Or(was, "-")))
	}
	if a.Device != b.Device || a.Terminal != b.Terminal {
		say = append(say, lang.Say("another device or terminal"))
	}
	if a.Where != b.Where {
		say = append(say, lang.Say("now in %s", b.Where))
	}
	switch {
	case a.NotTestable == "" && b.NotTestable != "":
		say = append(say, lang.Say("can not be tested any more"))
	case a.NotTestable != "" && b.NotTestable == "":
		say = append(say, lang.Say("can be tested now"))
	}
	if len(say) == 0 && !reflect.DeepEqual(plain(a), plain(b)) {
		say = append(say, lang.Say("how it is tripped, or how long it may take"))
	}
	if len(say) == 0 {
		return ""
	}
	return strings.Join(say, "; ") + "."
}

// codes are the codes that a step expects at the beginning of what it trips.
func codes(s Step) string {
	var out []string
	for _, e := range s.Expected {
		if !e.Role.Ends() && e.Code != "" {
			out = append(out, e.Code)
		}
	}
	return strings.Join(out, ", ")
}

// plain is a step without its place in the walk.
func plain(s Step) Step {
	s.Order, s.Way, s.X, s.Y, s.Placed = 0, Way{}, 0, 0, false
	return s
}
