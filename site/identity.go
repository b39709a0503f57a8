package site

import (
	"strings"

	"proofbell/internal/sorts"
)

// Families are the device families whose identities carry a check digit, with the number that their letters count as.
// An identity is the two letters, five digits and the check digit: SD001228.
var Families = map[string]int{
	"DC": 41, "MO": 42, "GB": 43, "BR": 45, "SD": 46, "HD": 47, "CO": 48, "FB": 49, "WP": 50, "TS": 51, "PB": 52,
}

// CheckDigit returns the check digit of a family and five digits. The letters count as their number; over these seven
// digits, from the right, every second one is doubled starting with the last, nines are cast out, and the check digit
// makes the sum a multiple of ten (the modulus 10 rule of ISO/IEC 7812-1, annex B).
// ok is false for an unknown family or anything but five digits.
func CheckDigit(family, five string) (digit byte, ok bool) {
	letters, known := Families[family]
	if !known || len(five) != 5 || digits(five) != 5 {
		return 0, false
	}
	sum := 0
	count := func(d int, double bool) {
		if double {
			if d *= 2; d > 9 {
				d -= 9
			}
		}
		sum += d
	}
	count(letters/10, true)
	count(letters%10, false)
	for i := range 5 {
		count(int(five[i]-'0'), i%2 == 0)
	}
	return byte('0' + (10-sum%10)%10), true
}

// IdentityVerdict says what an identity as read off a label is worth.
type IdentityVerdict struct {
	Known  bool   // of a known family and length; when false, nothing can be said
	Good   bool   // the check digit is right
	Family string // the letters
	// Swapped are the identities that two neighbouring digits in the other order would give, Changed those of one
	// misread digit; both in order, without the identity itself. Swapped is the likelier slip of a hand.
	Swapped, Changed []string
}

// CheckIdentity tests the check digit of an identity and, when it is wrong, lists what may have been meant.
func CheckIdentity(identity string) IdentityVerdict {
	if len(identity) != 8 {
		return IdentityVerdict{}
	}
	v := IdentityVerdict{Family: identity[:2]}
	if _, v.Known = CheckDigit(v.Family, identity[2:7]); !v.Known || identity[7] < '0' || identity[7] > '9' {
		return IdentityVerdict{Family: v.Family}
	}
	if v.Good = checks(identity); v.Good {
		return v
	}
	for i := 2; i < 8; i++ {
		if i < 7 && identity[i] != identity[i+1] {
			if s := identity[:i] + identity[i+1:i+2] + identity[i:i+1] + identity[i+2:]; checks(s) {
				v.Swapped = append(v.Swapped, s)
			}
		}
		for d := byte('0'); d <= '9'; d++ {
			if s := identity[:i] + string(d) + identity[i+1:]; checks(s) {
				v.Changed = append(v.Changed, s)
			}
		}
	}
	sorts.By(v.Swapped, strings.Compare)
	sorts.By(v.Changed, strings.Compare)
	return v
}

func checks(identity string) bool {
	d, ok := CheckDigit(identity[:2], identity[2:7])
	return ok && d == identity[7]
}
