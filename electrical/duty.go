package electrical

import (
	"fmt"

	"proofbell/internal/words"
	"proofbell/quantity"
)

// Duty is a rule that says how long a standby supply has to carry the system, and what is added for an old battery.
type Duty struct {
	ID      string
	Name    string // marked
	Standby quantity.Second
	Alarm   quantity.Second // 0: as long as the alarm is set to sound
	Factor  float64         // for the end of the battery's life; 0: the rule leaves it to others
	British bool            // sized by formula 5.2b, with its factor D
	Source  string          // document, edition, clause
	Sure    string          // confidence in it: H, M, L

	Share  float64 // part of the capacity that has to be back
	Within quantity.Second
	Charge string // source of that; empty: the rule says nothing
}

const (
	minute = 60
	hour   = 3600
)

const (
	us = "UL 864, charged again within 48 h; unconfirmed"
	en = "EN 54-4, 80 % in 24 h, the rest in the next 48 h"
	ia = "EN 50131-6, type A"
)

var duties = []Duty{
	{"fire-premises", words.Mark("Fire alarm system of a building: 24 h and 5 min"), 24 * hour, 5 * minute, 1.20, false, "NFPA 72, 10.6.7 and 10.6.7.2.1", "M", 1, 48 * hour, us},
	{"fire-voice", words.Mark("The same with voice alarm: 24 h and 15 min"), 24 * hour, 15 * minute, 1.20, false, "NFPA 72, 10.6.7 and 10.6.7.2.1", "M", 1, 48 * hour, us},
	{"fire-household", words.Mark("Fire warning in a dwelling: 24 h and 4 min"), 24 * hour, 4 * minute, 0, false, "NFPA 72 2007, 11.6.2; later editions chapter 29", "H", 1, 48 * hour, us},
	{"co-household", words.Mark("Carbon monoxide in a dwelling: 24 h and 12 h of its alarm"), 24 * hour, 12 * hour, 0, false, "NFPA 72, chapter 29 (NFPA 720 before it); unconfirmed", "M", 1, 48 * hour, us},
	{"burglary-household", words.Mark("Burglary in a dwelling: 4 h and the alarm"), 4 * hour, 0, 0, false, "UL 1023; unconfirmed", "M", 0, 0, ""},
	{"fire-24", words.Mark("Fire, British practice: 24 h and 30 min"), 24 * hour, 30 * minute, 1.25, true, "BS 5839-1, annex on standby batteries", "H", 0.8, 24 * hour, en},
	{"fire-72", words.Mark("Fire, British practice, mains loss may go unseen: 72 h and 30 min"), 72 * hour, 30 * minute, 1.25, true, "BS 5839-1, annex on standby batteries", "H", 0.8, 24 * hour, en},
	{"intruder-a-12", words.Mark("Intruder, rechargeable, grade 1 or 2: 12 h"), 12 * hour, 0, 1.25, false, "EN 50131-1 and -6, type A", "M", 0.8, 72 * hour, ia},
	{"intruder-a-60", words.Mark("Intruder, rechargeable, grade 3 or 4: 60 h"), 60 * hour, 0, 1.25, false, "EN 50131-1 and -6, type A", "M", 0.8, 24 * hour, ia},
	{"intruder-a-30", words.Mark("The same where mains failure is reported to the station: 30 h"), 30 * hour, 0, 1.25, false, "EN 50131-1 and -6, type A", "M", 0.8, 24 * hour, ia},
	{"intruder-a-4", words.Mark("Intruder, rechargeable, with a generator: 4 h"), 4 * hour, 0, 1.25, false, "EN 50131-6; unconfirmed", "M", 0.8, 24 * hour, ia},
	{"intruder-b-24", words.Mark("Intruder, battery changed by hand, grade 1 or 2: 24 h"), 24 * hour, 0, 1.25, false, "EN 50131-6, type B; unconfirmed", "M", 0, 0, ""},
	{"intruder-b-120", words.Mark("Intruder, battery changed by hand, grade 3 or 4: 120 h"), 120 * hour, 0, 1.25, false, "EN 50131-6, type B; unconfirmed", "M", 0, 0, ""},
	{"intruder-c-720", words.Mark("Intruder, battery alone: 720 h"), 720 * hour, 0, 1.25, false, "EN 50131-6, type C; unconfirmed", "M", 0, 0, ""},
}

// Duties lists the known rules in the order of the page.
func Duties() []Duty { return duties }

// DutyOf finds a rule by its id.
func DutyOf(id string) (Duty, bool) {
	for _, d := range duties {
		if d.ID == id {
			return d, true
		}
	}
	return Duty{}, false
}

// IntruderDuty is the rule of EN 50131-1 and -6 for a grade (1 to 4) and a type of supply: A rechargeable, B changed by hand,
// C battery alone. reported: mains failure is told to the station. generator: there is a second prime source.
func IntruderDuty(grade int, kind string, reported, generator bool) (Duty, error) {
	if grade < 1 || grade > 4 {
		return Duty{}, said(words.Later("grade %d is not between 1 and 4", grade))
	}
	high := grade > 2
	id := ""
	switch {
	case kind == "A" && generator:
		id = "intruder-a-4"
	case kind == "A" && high && reported:
		id = "intruder-a-30"
	case kind == "A" && high:
		id = "intruder-a-60"
	case kind == "A":
		id = "intruder-a-12"
	case kind == "B" && high:
		id = "intruder-b-120"
	case kind == "B":
		id = "intruder-b-24"
	case kind == "C":
		id = "intruder-c-720"
	default:
		return Duty{}, said(words.Later("type of supply %q is none of A, B and C", kind))
	}
	d, _ := DutyOf(id)
	return d, nil
}

func said(what words.Text) error { return fmt.Errorf("%w: %w", &words.Error{Say: what}, ErrInput) }
