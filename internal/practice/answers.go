package practice

import (
	"fmt"
	"slices"
	"strings"

	"proofbell/rules"
	"proofbell/site"
)

// mostAnswers bounds what one learner names.
const mostAnswers = 1000

// ParseAnswers reads what a learner named, a fault a line: kind of the place, its id, what is wrong ("zone 14 bypass"). What
// stands behind # is a remark. Errors name the line and say what would be right.
func ParseAnswers(s *site.Site, text string) ([]Answer, error) {
	places := Places(s)
	var out []Answer
	for n, line := range strings.Split(text, "\n") {
		line, _, _ = strings.Cut(line, "#")
		parts := strings.Fields(line)
		if len(parts) == 0 {
			continue
		}
		if len(parts) != 3 {
			return nil, fmt.Errorf("%d: %d words; write kind, id and what is wrong: zone 14 bypass", n+1, len(parts))
		}
		a := Answer{Place: rules.Place{Kind: parts[0], ID: parts[1]}, What: parts[2]}
		if !slices.Contains(places, a.Place) {
			if !slices.ContainsFunc(places, func(p rules.Place) bool { return p.Kind == a.Place.Kind }) {
				return nil, fmt.Errorf("%d: %q is no kind of place; there are zone, head, group, room, storey, area, setting, power, path, contact, station and premises", n+1, clip(parts[0]))
			}
			return nil, fmt.Errorf("%d: the site has no %s %q", n+1, a.Place.Kind, clip(a.Place.ID))
		}
		if _, ok := Find(a.What); !ok {
			return nil, fmt.Errorf("%d: %q is not in the list of what can be wrong; proofbell practice sayings prints it", n+1, clip(a.What))
		}
		if out = append(out, a); len(out) > mostAnswers {
			return nil, fmt.Errorf("%d: more than %d faults", n+1, mostAnswers)
		}
	}
	return out, nil
}

func clip(s string) string {
	if len(s) > 24 {
		return s[:24] + "..."
	}
	return s
}
