package survey

import (
	"cmp"
	"strings"

	"proofbell/internal/sorts"
	"proofbell/site"
)

// uses are parts of names that rooms of a use are called by, in the languages spoken here; the longer and rarer first.
var uses = []struct{ part, use string }{
	{"boiler", "boiler"},
	{"heiz", "boiler"},
	{"bath", "bathroom"},
	{"shower", "bathroom"},
	{"toilet", "bathroom"},
	{"badezimmer", "bathroom"},
	{"dusche", "bathroom"},
	{"wc", "bathroom"},
	{"workshop", "workshop"},
	{"werkst", "workshop"},
	{"kitchen", "kitchen"},
	{"küche", "kitchen"},
	{"dining", "dining"},
	{"breakfast", "dining"},
	{"esszimmer", "dining"},
	{"lounge", "lounge"},
	{"living", "lounge"},
	{"sitting", "lounge"},
	{"wohnzimmer", "lounge"},
	{"bedroom", "bedroom"},
	{"guest room", "bedroom"},
	{"nursery", "bedroom"},
	{"schlaf", "bedroom"},
	{"kinderzimmer", "bedroom"},
	{"gästezimmer", "bedroom"},
	{"office", "office"},
	{"study", "office"},
	{"büro", "office"},
	{"arbeitszimmer", "office"},
	{"linen", "linen"},
	{"wäsche", "linen"},
	{"garage", "garage"},
	{"attic", "loft"},
	{"loft", "loft"},
	{"dachboden", "loft"},
	{"cellar", "cellar"},
	{"basement", "cellar"},
	{"keller", "cellar"},
	{"stair", "stair"},
	{"treppe", "stair"},
	{"corridor", "corridor"},
	{"landing", "corridor"},
	{"gang", "corridor"},
	{"store", "store"},
	{"pantry", "store"},
	{"abstell", "store"},
	{"lager", "store"},
	{"plant room", "plant"},
	{"technik", "plant"},
	{"wohnung", "flat"},
	{"flat", "flat"},
	{"hall", "hall"},
	{"flur", "hall"},
	{"diele", "hall"},
}

// GuessUse returns the use that a room's name speaks of, to be offered and confirmed; "" when it speaks of none.
func GuessUse(name string) string {
	name = strings.ToLower(name)
	for _, u := range uses {
		if strings.Contains(name, u.part) {
			return u.use
		}
	}
	return ""
}

// Walk returns the rooms in the order of the walk: those with an order first, the others as their ids stand.
func Walk(s *site.Site) []site.RoomID {
	ids := site.SortedIDs(s.Rooms)
	sorts.Stable(ids, func(a, b site.RoomID) int {
		x, y := s.Rooms[a].Order, s.Rooms[b].Order
		if (x == 0) != (y == 0) {
			return cmp.Compare(y, x)
		}
		return cmp.Compare(x, y)
	})
	return ids
}

// NextOrder returns the order of the room that is entered next.
func NextOrder(s *site.Site) int {
	last := 0
	for _, r := range s.Rooms {
		last = max(last, r.Order)
	}
	return last + 1
}
