package signal

import (
	"strconv"
	"strings"
	"time"
)

// FieldKind says how the value of an extended field is to be read.
type FieldKind string

// The kinds of extended fields. The letters agree between sources; the forms behind X, Y, Z,
// C and H are unconfirmed.
const (
	FieldText         FieldKind = "text"         // I, L, O, P, R, S: words in Windows-1252
	FieldHash         FieldKind = "hash"         // A: authentication hash of the message; not checked here
	FieldSupervision  FieldKind = "supervision"  // C: category and number of paths
	FieldOccurred     FieldKind = "occurred"     // H: when it happened, if that is not when it was sent
	FieldPath         FieldKind = "path"         // J: the network path used
	FieldKeyExchange  FieldKind = "key-exchange" // K
	FieldHardware     FieldKind = "hardware"     // M: twelve hex digits
	FieldNetwork      FieldKind = "network"      // N
	FieldTrigger      FieldKind = "trigger"      // T
	FieldVerification FieldKind = "verification" // V: where audio or video is found; an address in it is never to be fetched by itself
	FieldLongitude    FieldKind = "longitude"    // X
	FieldLatitude     FieldKind = "latitude"     // Y
	FieldAltitude     FieldKind = "altitude"     // Z
	FieldUnknown      FieldKind = "unknown"      // a letter that we do not know; kept
)

// Detail is an extended field read. What can not be read as its letter asks stays text, with
// the reason in Fault; it never speaks against the event.
type Detail struct {
	Name  string    `json:"name"`
	Kind  FieldKind `json:"kind"`
	Words Phrase    `json:"words"` // what the letter stands for
	Text  string    `json:"text"`  // the value in UTF-8

	Occurred time.Time `json:"occurred,omitzero"`  // H, UTC
	Degrees  float64   `json:"degrees,omitzero"`   // X east, Y north; west and south are below 0
	Altitude float64   `json:"altitude,omitzero"`  // Z, as written: the unit is unconfirmed
	Category string    `json:"category,omitempty"` // C: "SP3", "DP4", as EN 50136-1 names them
	Paths    int       `json:"paths,omitzero"`     // C

	Fault Phrase `json:"fault,omitzero"`
}

// form is what the standard says of a letter: size in bytes, and whether all of Windows-1252
// or ASCII alone may stand in it.
type form struct {
	kind  FieldKind
	words Phrase
	max   int
	text  bool
}

func formOf(letter string) form {
	switch letter {
	case "A":
		return form{FieldHash, phrase("authentication hash"), 12, false}
	case "C":
		return form{FieldSupervision, phrase("supervision category and number of paths"), 64, false}
	case "H":
		return form{FieldOccurred, phrase("time of occurrence"), 21, false}
	case "I":
		return form{FieldText, phrase("alarm text"), 256, true}
	case "J":
		return form{FieldPath, phrase("network path used"), 1, false}
	case "K":
		return form{FieldKeyExchange, phrase("key exchange"), 64, false}
	case "L":
		return form{FieldText, phrase("location on site"), 256, true}
	case "M":
		return form{FieldHardware, phrase("hardware address"), 12, false}
	case "N":
		return form{FieldNetwork, phrase("network address"), 128, false}
	case "O":
		return form{FieldText, phrase("building name"), 256, true}
	case "P":
		return form{FieldText, phrase("programming or interactive data"), 256, true}
	case "R":
		return form{FieldText, phrase("room"), 256, true}
	case "S":
		return form{FieldText, phrase("site name"), 256, true}
	case "T":
		return form{FieldTrigger, phrase("alarm trigger"), 1, false}
	case "V":
		return form{FieldVerification, phrase("where audio or video is found; never fetched by itself"), 256, true}
	case "X":
		return form{FieldLongitude, phrase("longitude"), 12, false}
	case "Y":
		return form{FieldLatitude, phrase("latitude"), 12, false}
	case "Z":
		return form{FieldAltitude, phrase("altitude"), 12, false}
	}
	return form{kind: FieldUnknown, words: phrase("field of a letter we do not know, kept")}
}

// Detail reads the field by its letter.
func (f Field) Detail() Detail {
	form := formOf(f.Name)
	d := Detail{Name: DecodeText(f.Name), Kind: form.kind, Words: form.words, Text: f.Text()}
	switch {
	case d.Kind == FieldUnknown:
		return d
	case len(f.Value) > form.max:
		d.Fault = phrase("longer than %d bytes", form.max)
		return d
	case !form.text && !ascii(f.Value):
		d.Fault = phrase("only ASCII may stand here")
		return d
	}
	ok := true
	switch d.Kind {
	case FieldOccurred:
		var err error
		if d.Occurred, err = ParseTimestamp(strings.TrimPrefix(f.Value, "_")); err != nil {
			d.Fault = phrase("no time of the form %s", stampForm)
		}
	case FieldHardware:
		if len(f.Value) != 12 || strings.Trim(f.Value, "0123456789ABCDEFabcdef") != "" {
			d.Fault = phrase("not twelve hex digits")
		}
	case FieldLongitude:
		if d.Degrees, ok = degrees(f.Value, 3, 'E', 'W', 180); !ok {
			d.Fault = phrase("no longitude of the form %s", "093W23.456")
		}
	case FieldLatitude:
		if d.Degrees, ok = degrees(f.Value, 2, 'N', 'S', 90); !ok {
			d.Fault = phrase("no latitude of the form %s", "45N12.345")
		}
	case FieldAltitude:
		number, sign := strings.TrimLeft(f.Value, "+-"), 1.0
		if len(f.Value)-len(number) > 1 {
			number = ""
		} else if strings.HasPrefix(f.Value, "-") {
			sign = -1
		}
		if d.Altitude, ok = decimals(number); !ok {
			d.Fault = phrase("no number")
		}
		d.Altitude *= sign
	case FieldSupervision:
		// Other forms than SP3 and DP4,2 stay text: none is confirmed.
		v := f.Value
		if len(v) >= 3 && (v[:2] == "SP" && '1' <= v[2] && v[2] <= '6' || v[:2] == "DP" && '1' <= v[2] && v[2] <= '4') {
			paths := strings.TrimLeft(v[3:], " ,;/-")
			if n, err := strconv.ParseUint(paths, 10, 8); paths == "" || err == nil && len(paths) < len(v[3:]) {
				d.Category, d.Paths = v[:3], int(n)
			}
		}
	}
	return d
}

// degrees reads whole degrees of so many digits, the side, and minutes; negative is the
// second side.
func degrees(value string, digits int, plus, minus byte, most float64) (float64, bool) {
	if len(value) < digits+2 {
		return 0, false
	}
	side := value[digits]
	whole, ok1 := decimals(value[:digits])
	minutes, ok2 := decimals(value[digits+1:])
	d := whole + minutes/60
	if !ok1 || !ok2 || side != plus && side != minus || strings.Contains(value[:digits], ".") || minutes >= 60 || d > most {
		return 0, false
	}
	if side == minus {
		d = -d
	}
	return d, true
}

// decimals reads digits with at most one point between them.
func decimals(s string) (float64, bool) {
	whole, rest, point := strings.Cut(s, ".")
	if whole == "" || point && rest == "" || strings.Trim(whole+rest, "0123456789") != "" {
		return 0, false
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil
}
