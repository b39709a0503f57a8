package site

import (
	"strings"
	"unicode"
)

// The shapes of ids, dates and stickers. They are read by hand, not by patterns, because the engine of the browser pays
// for every library by the byte.

const (
	digitSigns   = "0123456789"
	letterSigns  = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz"
	stickerSigns = digitSigns + "ABCDEFGHJKMNPQRSTVWXYZ" // without I, L, O and U
)

// only reports whether a text holds nothing but these signs.
func only(text, signs string) bool { return strings.Trim(text, signs) == "" }

// isID: 1 to 32 letters, digits and dashes, no dash in front.
func isID(text string) bool {
	return text != "" && len(text) <= 32 && text[0] != '-' && only(text, letterSigns+digitSigns+"-")
}

// isDate: 2019, 2019-04 or 2019-04-23, on a calendar or not.
func isDate(text string) bool {
	for i := range len(text) {
		if dash := i == 4 || i == 7; dash != (text[i] == '-') || !dash && !only(text[i:i+1], digitSigns) {
			return false
		}
	}
	return len(text) == len("2019") || len(text) == len("2019-04") || len(text) == len("2019-04-23")
}

// isSticker: 7K2M-Q4XP.
func isSticker(text string) bool {
	return len(text) == 9 && text[4] == '-' && only(text[:4]+text[5:], stickerSigns)
}

// isPlain: letters and digits, and within them the signs that mean nothing to YAML there.
func isPlain(text string) bool {
	for i, r := range text {
		if !unicode.IsLetter(r) && !strings.ContainsRune(digitSigns+"-", r) && (i == 0 || !strings.ContainsRune(" ._/()'+", r)) {
			return false
		}
	}
	return text != ""
}

// isNoText reports whether some reader of YAML might take a text for something else: a number, a truth, a list.
func isNoText(text string) bool {
	low := strings.ToLower(text)
	switch low {
	case "":
		return false
	case "null", "true", "false", "yes", "no", "on", "off", "y", "n":
		return true
	}
	return only(low[:1], "-+."+digitSigns) && only(low, "-+._abcdefox"+digitSigns) || strings.HasPrefix(low, "- ") || strings.HasPrefix(low, "-.")
}
