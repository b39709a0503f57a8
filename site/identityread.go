package site

import "strings"

// ReadIdentity finds the identity in what was typed, read out, scanned or shown by a panel, in the form in which a site
// file keeps it: capitals and digits without anything between them. letters and digits say how an identity is built; both
// 0 stand for the two letters and six digits of Families. Signs that are easily taken for each other are read by their
// place: O, I and L among the digits as 0 and 1; 0, 1, 5 and 8 among the letters as O, I, S and B where that makes a known
// family. In a longer text (a code that holds an address, say) an identity with the right check digit goes before others.
// What has another form is returned as typed, in capitals without spaces; "" when nothing like an identity is in it.
func ReadIdentity(text string, letters, digits int) string {
	if letters+digits == 0 {
		letters, digits = 2, 6
	}
	text = strings.ToUpper(text)
	packed := strings.Map(packs, text)
	if len(packed) == letters+digits {
		if read, ok := byPlace(packed, letters); ok {
			return read
		}
	}
	first := ""
	for from := range len(text) {
		if from > 0 && packs(rune(text[from-1])) >= 0 {
			continue
		}
		found, ok := standsAt(text[from:], letters, digits)
		switch {
		case !ok:
		case CheckIdentity(found).Good:
			return found
		case first == "":
			first = found
		}
	}
	if first == "" && len(packed) <= 2*(letters+digits) {
		return packed
	}
	return first
}

// packs keeps capitals and digits.
func packs(r rune) rune {
	if r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' {
		return r
	}
	return -1
}

// standsAt reads an identity at the beginning of a text, with single signs of punctuation or spaces between its groups.
func standsAt(text string, letters, digits int) (identity string, ok bool) {
	var packed []byte
	i, gap := 0, 0
	for ; i < len(text) && len(packed) < letters+digits; i++ {
		switch c := text[i]; {
		case packs(rune(c)) >= 0:
			if (c >= 'A') != (len(packed) < letters) {
				return "", false
			}
			packed, gap = append(packed, c), 0
		case len(packed) > 0 && strings.IndexByte(" -./\t", c) >= 0 && gap == 0:
			gap++
		default:
			return "", false
		}
	}
	if len(packed) < letters+digits || i < len(text) && packs(rune(text[i])) >= 0 {
		return "", false
	}
	return string(packed), true
}

// byPlace reads signs that look alike by where they stand. ok is false when letters and digits do not stand where they should.
func byPlace(packed string, letters int) (identity string, ok bool) {
	family := strings.NewReplacer("0", "O", "1", "I", "5", "S", "8", "B").Replace(packed[:letters])
	if _, known := Families[family]; !known {
		family = packed[:letters]
	}
	rest := strings.NewReplacer("O", "0", "I", "1", "L", "1").Replace(packed[letters:])
	return family + rest, digits(rest) == len(rest) && !strings.ContainsAny(family, "0123456789")
}

// GroupIdentity writes an identity as labels print it: the letters, the digits, the check digit apart: "BR 00101 3". One
// that is not of a known family is written in its letters and its digits.
func GroupIdentity(identity string) string {
	letters := len(identity) - len(strings.TrimLeft(identity, "ABCDEFGHIJKLMNOPQRSTUVWXYZ"))
	switch {
	case CheckIdentity(identity).Known:
		return identity[:2] + " " + identity[2:7] + " " + identity[7:]
	case letters > 0 && letters < len(identity):
		return identity[:letters] + " " + identity[letters:]
	}
	return identity
}

// DifferingPlaces lists the places, from 0, at which two identities differ; nil when they are equal or not equally long.
// swapped says that exactly two places differ and that each holds what the other should: a slip of a hand or an eye.
func DifferingPlaces(read, meant string) (places []int, swapped bool) {
	if len(read) != len(meant) {
		return nil, false
	}
	for i := range len(read) {
		if read[i] != meant[i] {
			places = append(places, i)
		}
	}
	if len(places) != 2 {
		return places, false
	}
	a, b := places[0], places[1]
	return places, read[a] == meant[b] && read[b] == meant[a]
}
