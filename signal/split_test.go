package signal

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// pieces writes the parts one after the other and tells what came out.
func pieces(parts ...[]byte) []string {
	var s Splitter
	var out []string
	tell := func(p Piece) {
		if p.Err != nil {
			out = append(out, fmt.Sprintf("%s %d %q", Cause(p.Err), p.Lost, p.Raw))
		} else {
			out = append(out, string(p.Raw))
		}
	}
	for _, part := range parts {
		s.Write(part)
		for p, ok := s.Next(); ok; p, ok = s.Next() {
			tell(p)
		}
	}
	if p, ok := s.Flush(); ok {
		tell(p)
	}
	return out
}

const (
	first  = "\n7AB00027\"ADM-CID\"0004L0#1234[#1234|3110 01 005]\r"
	second = "\n1EF20013\"NULL\"0000L0#1234[]\r"
)

func TestSplit(t *testing.T) {
	long := "\n" + strings.Repeat("x", MaxFrame)
	for name, c := range map[string]struct {
		stream string
		want   []string
	}{
		"nothing":                        {"", nil},
		"one":                            {first, []string{first}},
		"joined":                         {first + second + first, []string{first, second, first}},
		"line ends between":              {first + "\n" + second + "\r\n" + first + "\r\n\x00", []string{first, second, first}},
		"garbage between":                {first + "GET / HTTP/1.1" + second, []string{first, `garbage 14 "GET / HTTP/1.1"`, second}},
		"garbage in front and behind":    {"abc" + first + "def", []string{`garbage 3 "abc"`, first, `garbage 3 "def"`}},
		"a frame cut off by the next":    {first[:20] + second, []string{`truncated 20 ` + fmt.Sprintf("%q", first[:20]), second}},
		"a frame cut off by the end":     {first + second[:9], []string{first, `truncated 9 ` + fmt.Sprintf("%q", second[:9])}},
		"a long garbage shows its head":  {strings.Repeat("y", 100_000) + first, []string{`garbage 100000 ` + fmt.Sprintf("%q", strings.Repeat("y", 64)), first}},
		"longest frame":                  {long[:MaxFrame-1] + "\r" + second, []string{long[:MaxFrame-1] + "\r", second}},
		"one byte more":                  {long[:MaxFrame] + "\r" + second, []string{`too long 4106 ` + fmt.Sprintf("%q", long[:64]), second}},
		"a megabyte in one frame":        {"\n" + strings.Repeat("x", 1<<20) + second, []string{fmt.Sprintf("too long %d %q", 1<<20+1, long[:64]), second}},
		"frame end without a beginning":  {"\r" + first, []string{first}},
		"a frame hidden in long garbage": {long + long + first + long, []string{fmt.Sprintf("too long %d %q", MaxFrame+1, long[:64]), fmt.Sprintf("too long %d %q", MaxFrame+1, long[:64]), first, fmt.Sprintf("too long %d %q", MaxFrame+1, long[:64])}},
	} {
		if got := pieces([]byte(c.stream)); !slices.Equal(got, c.want) {
			t.Errorf("%s: %.200q\nwant %.200q", name, got, c.want)
		}
	}
}

// Whatever the network does to the stream, the same pieces come out.
func TestSplitAtEveryByte(t *testing.T) {
	stream := []byte("abc" + first + second + first[:10] + second + "\r\n" + first + "xyz")
	want := pieces(stream)
	for i := range stream {
		if got := pieces(stream[:i], stream[i:]); !slices.Equal(got, want) {
			t.Fatalf("cut at %d: %q, want %q", i, got, want)
		}
	}
	if got := pieces(slices.Collect(slices.Chunk(stream, 1))...); !slices.Equal(got, want) {
		t.Errorf("byte by byte: %q, want %q", got, want)
	}
}

// slowPieces is the splitter once more, as plain as can be: all bytes at hand, one after the other.
func slowPieces(stream []byte) (frames []string) {
	var frame []byte
	inside := false
	for _, b := range stream {
		if b == '\n' {
			frame, inside = nil, true
		}
		if !inside {
			continue
		}
		if frame = append(frame, b); len(frame) > MaxFrame {
			inside = false
		} else if b == '\r' {
			frames, inside = append(frames, string(frame)), false
		}
	}
	return frames
}

func FuzzSplit(f *testing.F) {
	f.Add([]byte("abc"+first+second+first[:10]+second), 7)
	f.Add([]byte("\n\n\r\r\n"), 1)
	f.Add([]byte("\n"+strings.Repeat("x", MaxFrame)+"\r"+second), 4096)
	f.Fuzz(func(t *testing.T, stream []byte, size int) {
		if size < 1 {
			size = 1
		}
		whole := pieces(stream)
		parts := pieces(slices.Collect(slices.Chunk(stream, size))...)
		if !slices.Equal(whole, parts) {
			t.Errorf("in parts of %d: %q, whole: %q", size, parts, whole)
		}
		var frames []string
		for _, p := range whole {
			if strings.HasPrefix(p, "\n") {
				frames = append(frames, p)
			}
		}
		if want := slowPieces(stream); !slices.Equal(frames, want) {
			t.Errorf("frames %q, want %q", frames, want)
		}
	})
}

// The splitter keeps no more than one frame and what was last written.
func TestSplitterMemory(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var s Splitter
		for range 200 {
			part := bytes.Repeat([]byte(rapid.SampledFrom([]string{"x", "\n", "\r", "\nx"}).Draw(t, "byte")), rapid.IntRange(1, 2048).Draw(t, "n"))
			s.Write(part)
			for _, ok := s.Next(); ok; _, ok = s.Next() {
			}
			if have := len(s.buf) - s.off; have > MaxFrame {
				t.Fatalf("%d bytes are kept", have)
			}
		}
		if cap(s.buf) > 4*MaxFrame {
			t.Fatalf("the buffer grew to %d", cap(s.buf))
		}
	})
}
