// Package photo looks through photographs without decoding them: it takes out what a camera writes beside the picture
// (position, time, owner, a second picture), and says whether what is left is of a sane size. It knows JPEG (ITU-T T.81)
// and PNG (ISO/IEC 15948).
package photo

import (
	"encoding/binary"
	"errors"
	"fmt"
)

// Limits of a photograph that is kept.
const (
	MaxBytes = 6 << 20
	MaxSide  = 4096 // px
	MinSide  = 16   // px
)

// Errors, to match with errors.Is.
var (
	ErrForm  = errors.New("neither a JPEG nor a PNG picture, or a broken one")
	ErrSize  = errors.New("too large or too small a picture")
	ErrExtra = errors.New("holds more than the picture: position, time or text")
)

// Info is what is known of a photograph.
type Info struct {
	Media         string // "image/jpeg", "image/png"
	Width, Height int    // px
}

// Strip returns the picture and nothing else: the same pixels, without what a camera or program wrote beside them. Taken
// out with it is the note by which a camera says that it was held turned: turn the picture before.
// The error wraps ErrForm or ErrSize.
func Strip(raw []byte) ([]byte, Info, error) {
	if len(raw) > MaxBytes {
		return nil, Info{}, fmt.Errorf("%d bytes, at most %d: %w", len(raw), MaxBytes, ErrSize)
	}
	strip := stripJPEG
	if len(raw) >= len(pngSignature) && string(raw[:len(pngSignature)]) == pngSignature {
		strip = stripPNG
	}
	out, info, err := strip(raw)
	if err != nil {
		return nil, Info{}, err
	}
	for _, side := range []int{info.Width, info.Height} {
		if side < MinSide || side > MaxSide {
			return nil, Info{}, fmt.Errorf("%d x %d px, each from %d to %d: %w", info.Width, info.Height, MinSide, MaxSide, ErrSize)
		}
	}
	return out, info, nil
}

// Check is for what others send: nil only if Strip would leave it as it is. The error wraps ErrForm, ErrSize or ErrExtra.
func Check(raw []byte) (Info, error) {
	out, info, err := Strip(raw)
	if err == nil && len(out) != len(raw) {
		err = ErrExtra
	}
	return info, err
}

// Markers of JPEG (ITU-T T.81, table B.1).
const (
	markSOI, markEOI, markSOS = 0xd8, 0xd9, 0xda
	markAPP0, markAPP14       = 0xe0, 0xee // JFIF; colour transform
	markAPPlast, markCOM      = 0xef, 0xfe
	markRST0, markRST7        = 0xd0, 0xd7
)

func stripJPEG(raw []byte) ([]byte, Info, error) {
	info := Info{Media: "image/jpeg"}
	bad := fmt.Errorf("reading a JPEG: %w", ErrForm)
	if len(raw) < 4 || raw[0] != 0xff || raw[1] != markSOI {
		return nil, info, bad
	}
	out := append(make([]byte, 0, len(raw)), raw[:2]...)
	scanned := false
	for at := 2; ; {
		if at+2 > len(raw) || raw[at] != 0xff {
			return nil, info, bad
		}
		mark := raw[at+1]
		switch {
		case mark == 0xff: // fill
			at++
			continue
		case mark == markEOI:
			if !scanned || info.Width == 0 {
				return nil, info, bad
			}
			return append(out, 0xff, markEOI), info, nil // what follows is no part of the picture
		case mark < 0xc0 || mark >= markRST0 && mark <= markSOI:
			return nil, info, bad
		}
		if at+4 > len(raw) {
			return nil, info, bad
		}
		end := at + 2 + int(binary.BigEndian.Uint16(raw[at+2:]))
		if end < at+4 || end > len(raw) {
			return nil, info, bad
		}
		if frame(mark) {
			if end-at < 10 || info.Width > 0 {
				return nil, info, bad
			}
			info.Height, info.Width = int(binary.BigEndian.Uint16(raw[at+5:])), int(binary.BigEndian.Uint16(raw[at+7:]))
		}
		beside := mark >= markAPP0 && mark <= markAPPlast || mark == markCOM
		// Of the JFIF header its sixteen bytes are wanted, not a thumbnail behind them.
		if !beside || mark == markAPP0 && end-at == 18 || mark == markAPP14 && end-at == 16 {
			out = append(out, raw[at:end]...)
		}
		at = end
		if mark == markSOS {
			scanned = true
			for end = at; end+1 < len(raw); end++ {
				if next := raw[end+1]; raw[end] == 0xff && next != 0 && (next < markRST0 || next > markRST7) {
					break
				}
			}
			out = append(out, raw[at:end]...)
			at = end
		}
	}
}

// frame reports whether a marker begins a frame: SOF0 to SOF15 without the tables that share their numbers.
func frame(mark byte) bool {
	return mark >= 0xc0 && mark <= 0xcf && mark != 0xc4 && mark != 0xc8 && mark != 0xcc
}

const pngSignature = "\x89PNG\r\n\x1a\n"

// pngWanted are the chunks that the picture needs.
var pngWanted = map[string]bool{"IHDR": true, "PLTE": true, "IDAT": true, "IEND": true, "tRNS": true, "gAMA": true, "sRGB": true, "sBIT": true}

func stripPNG(raw []byte) ([]byte, Info, error) {
	info := Info{Media: "image/png"}
	out := append(make([]byte, 0, len(raw)), raw[:len(pngSignature)]...)
	for at, first := len(pngSignature), true; ; first = false {
		if at+12 > len(raw) {
			return nil, info, fmt.Errorf("reading a PNG: %w", ErrForm)
		}
		size, kind := binary.BigEndian.Uint32(raw[at:]), string(raw[at+4:at+8])
		if uint64(size) > uint64(len(raw)-at-12) || first != (kind == "IHDR") || first && size != 13 {
			return nil, info, fmt.Errorf("reading a PNG: %w", ErrForm)
		}
		end := at + 12 + int(size)
		if first {
			info.Width, info.Height = clampedSide(raw[at+8:]), clampedSide(raw[at+12:])
		}
		if pngWanted[kind] {
			out = append(out, raw[at:end]...)
		}
		if at = end; kind == "IEND" {
			return out, info, nil
		}
	}
}

func clampedSide(raw []byte) int { return int(min(binary.BigEndian.Uint32(raw), 1<<30)) }
