package photo

import (
	"bytes"
	"errors"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"testing"
)

func picture(w, h int) image.Image {
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for x := range w {
		for y := range h {
			m.Set(x, y, color.RGBA{uint8(x * 7), uint8(y * 5), 90, 255})
		}
	}
	return m
}

func asJPEG(w, h int) []byte {
	var b bytes.Buffer
	if err := jpeg.Encode(&b, picture(w, h), nil); err != nil {
		panic(err)
	}
	return b.Bytes()
}

func asPNG(w, h int) []byte {
	var b bytes.Buffer
	if err := png.Encode(&b, picture(w, h)); err != nil {
		panic(err)
	}
	return b.Bytes()
}

// segment is one JPEG segment: its length counts its own two bytes (ITU-T T.81, B.1.1.4).
func segment(mark byte, body string) string {
	return string([]byte{0xff, mark, byte((len(body) + 2) >> 8), byte(len(body) + 2)}) + body
}

func TestStrip(t *testing.T) {
	clean := string(asJPEG(64, 32))
	dirty := clean[:2] + segment(0xe1, "Exif\x00\x00GPS 51.5 N") + segment(0xe2, "ICC_PROFILE") + segment(0xfe, "taken by") + clean[2:] + "a film behind the picture"
	out, info, err := Strip([]byte(dirty))
	if err != nil || string(out) != clean || info != (Info{"image/jpeg", 64, 32}) {
		t.Errorf("the JPEG: %v, %v, same: %v", info, err, string(out) == clean)
	}
	if _, err := Check([]byte(dirty)); !errors.Is(err, ErrExtra) {
		t.Errorf("a JPEG with a position: %v", err)
	}
	plain := asPNG(20, 30)
	// Length 5, "tEXt", five letters, a checksum that nobody looks at: right before the end (12 bytes).
	text := string(plain[:len(plain)-12]) + "\x00\x00\x00\x05tEXtGPS 1\x00\x00\x00\x00" + string(plain[len(plain)-12:])
	out, info, err = Strip([]byte(text))
	if err != nil || !bytes.Equal(out, plain) || info != (Info{"image/png", 20, 30}) {
		t.Errorf("the PNG: %v, %v, same: %v", info, err, bytes.Equal(out, plain))
	}
	for _, raw := range [][]byte{[]byte(clean), plain} {
		if _, err := Check(raw); err != nil {
			t.Errorf("a clean picture: %v", err)
		}
	}
}

func TestRefused(t *testing.T) {
	clean := asJPEG(64, 32)
	for name, c := range map[string]struct {
		raw  []byte
		want error
	}{
		"nothing":    {nil, ErrForm},
		"text":       {[]byte("a label"), ErrForm},
		"cut off":    {clean[:len(clean)/2], ErrForm},
		"no picture": {[]byte("\xff\xd8\xff\xd9"), ErrForm},
		"tiny":       {asJPEG(8, 8), ErrSize},
		"wide":       {asPNG(MaxSide+1, 16), ErrSize},
		"heavy":      {append(clean, make([]byte, MaxBytes)...), ErrSize},
		"cut PNG":    {asPNG(20, 20)[:40], ErrForm},
	} {
		if _, _, err := Strip(c.raw); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
	}
}

// What is left decodes to the same pixels, and stripping it again takes nothing more.
func FuzzStrip(f *testing.F) {
	f.Add(asJPEG(32, 32))
	f.Add(asPNG(16, 16))
	f.Fuzz(func(t *testing.T, raw []byte) {
		out, info, err := Strip(raw)
		if err != nil {
			return
		}
		again, info2, err := Strip(out)
		if err != nil || info != info2 || !bytes.Equal(out, again) {
			t.Errorf("not stable: %v", err)
		}
	})
}
