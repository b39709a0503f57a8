package evidence

import (
	"bytes"
	"encoding/json"
	"errors"
	"math"
	"os"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode/utf16"

	"pgregory.net/rapid"
)

// The examples of RFC 8785 sections 3.2.2 and 3.2.3.
func TestCanonicalExamplesOfTheRFC(t *testing.T) {
	for _, tc := range []struct{ in, want string }{
		{`{
  "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
  "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
  "literals": [null, true, false]
}`, `{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],"string":"€$\u000f\nA'B\"\\\\\"/"}`},
		{`{
  "\u20ac": "Euro Sign", "\r": "Carriage Return", "\ufb33": "Hebrew Letter Dalet With Dagesh", "1": "One",
  "\ud83d\ude00": "Emoji: Grinning Face", "\u0080": "Control", "\u00f6": "Latin Small Letter O With Diaeresis"
}`, `{"\r":"Carriage Return","1":"One","` + "\u0080" + `":"Control","ö":"Latin Small Letter O With Diaeresis","€":"Euro Sign","😀":"Emoji: Grinning Face","` + "\ufb33" + `":"Hebrew Letter Dalet With Dagesh"}`},
		{" [ ] ", "[]"},
		{"{ }", "{}"},
		{"-0", "0"},
		{"-0.0e5", "0"},
		{`""`, `""`},
		{`{"":{"":[{}]}}`, `{"":{"":[{}]}}`},
		{`"\b\f\n\r\t\u007f\u2028\/"`, "\"\\b\\f\\n\\r\\t\u007f\u2028/\""},
		{"9007199254740991", "9007199254740991"}, // 2^53 - 1
		{"1e21", "1e+21"},
		{"1E-7", "1e-7"},
		{"1e-400", "0"},
	} {
		got, err := Canonical([]byte(tc.in))
		if err != nil || string(got) != tc.want {
			t.Errorf("%s\nbecame %s, %v\nwant   %s", tc.in, got, err, tc.want)
		}
	}
}

// RFC 8785 appendix B.
func TestNumbersOfTheRFC(t *testing.T) {
	for bits, want := range map[uint64]string{
		0x0000000000000000: "0",
		0x8000000000000000: "0",
		0x0000000000000001: "5e-324",
		0x8000000000000001: "-5e-324",
		0x7fefffffffffffff: "1.7976931348623157e+308",
		0xffefffffffffffff: "-1.7976931348623157e+308",
		0x4340000000000000: "9007199254740992",
		0xc340000000000000: "-9007199254740992",
		0x4430000000000000: "295147905179352830000",
		0x44b52d02c7e14af5: "9.999999999999997e+22",
		0x44b52d02c7e14af6: "1e+23",
		0x44b52d02c7e14af7: "1.0000000000000001e+23",
		0x444b1ae4d6e2ef4e: "999999999999999700000",
		0x444b1ae4d6e2ef4f: "999999999999999900000",
		0x444b1ae4d6e2ef50: "1e+21",
		0x3eb0c6f7a0b5ed8c: "9.999999999999997e-7",
		0x3eb0c6f7a0b5ed8d: "0.000001",
		0x41b3de4355555553: "333333333.3333332",
		0x41b3de4355555554: "333333333.33333325",
		0x41b3de4355555555: "333333333.3333333",
		0x41b3de4355555556: "333333333.3333334",
		0x41b3de4355555557: "333333333.33333343",
		0xbecbf647612f3696: "-0.0000033333333333333333",
		0x43143ff3c1cb0959: "1424953923781206.2",
	} {
		if got := string(appendNumber(nil, math.Float64frombits(bits))); got != want {
			t.Errorf("%016x became %s, want %s", bits, got, want)
		}
	}
}

// testdata/numbers.txt was written by a JavaScript engine, whose Number::toString is what the RFC asks for.
func TestNumbersAsECMAScript(t *testing.T) {
	lines := strings.Fields(string(must[[]byte](t)(os.ReadFile("testdata/numbers.txt"))))
	if len(lines) < 900 {
		t.Fatalf("only %d words in numbers.txt", len(lines))
	}
	for i := 0; i < len(lines); i += 2 {
		bits := must[uint64](t)(strconv.ParseUint(lines[i], 16, 64))
		if got := string(appendNumber(nil, math.Float64frombits(bits))); got != lines[i+1] {
			t.Errorf("%s became %s, want %s", lines[i], got, lines[i+1])
		}
	}
}

func TestCanonicalRefuses(t *testing.T) {
	deep := strings.Repeat("[", MaxJSONDepth) + strings.Repeat("]", MaxJSONDepth)
	if _, err := Canonical([]byte(deep)); err != nil {
		t.Errorf("%d levels: %v", MaxJSONDepth, err)
	}
	for _, tc := range []struct {
		in     string
		want   error
		offset int
	}{
		{"", ErrSyntax, 0},
		{"{", ErrSyntax, 1},
		{`{"a"`, ErrSyntax, 4},
		{`{"a":1,}`, ErrSyntax, 7},
		{`[1,]`, ErrSyntax, 3},
		{`[1 2]`, ErrSyntax, 3},
		{`1 2`, ErrSyntax, 2},
		{"\ufeff1", ErrSyntax, 0},
		{"NaN", ErrSyntax, 0},
		{"-Infinity", ErrSyntax, 1},
		{"+1", ErrSyntax, 0},
		{"01", ErrSyntax, 1},
		{"1.", ErrSyntax, 2},
		{".5", ErrSyntax, 0},
		{"1e", ErrSyntax, 2},
		{"-", ErrSyntax, 1},
		{"nul", ErrSyntax, 0},
		{"\"\x01\"", ErrSyntax, 1},
		{`"a`, ErrSyntax, 2},
		{`"\x"`, ErrSyntax, 1},
		{`"\u12g4"`, ErrSyntax, 1},
		{`"\`, ErrSyntax, 1},
		{`{"a":1,"b":2,"a":1}`, ErrDuplicateKey, 13},
		{`{"a":1,"\u0061":1}`, ErrDuplicateKey, 7},
		{"\"\xff\"", ErrUTF8, 1},
		{"\"\xed\xa0\x80\"", ErrUTF8, 1}, // a surrogate written as UTF-8
		{"\"\xc0\x80\"", ErrUTF8, 1},     // an overlong U+0000
		{`"\ud800"`, ErrSurrogate, 1},
		{`"\ude00"`, ErrSurrogate, 1},
		{`"\ud83dx"`, ErrSurrogate, 1},
		{`"\ud83d\u0041"`, ErrSurrogate, 1},
		{`{"\ud83d":1}`, ErrSurrogate, 2},
		{`"\u0000"`, ErrNUL, 1},
		{"\"\x00\"", ErrNUL, 1},
		{"9007199254740992", ErrNumber, 0},
		{"[-9007199254740993]", ErrNumber, 1},
		{"9007199254740993.5", ErrNumber, 0},
		{"1e20", ErrNumber, 0},
		{"1" + strings.Repeat("0", 25), ErrNumber, 0},
		{"1e400", ErrNumber, 0},
		{"[" + deep + "]", ErrTooDeep, MaxJSONDepth},
		{`"` + strings.Repeat("a", MaxJSONBytes) + `"`, ErrTooLarge, MaxJSONBytes},
	} {
		out, err := Canonical([]byte(tc.in))
		var at *JSONError
		if !errors.Is(err, tc.want) || !errors.As(err, &at) || at.Offset != tc.offset {
			t.Errorf("%.40q: got %.40q, %v, want %v at byte %d", tc.in, out, err, tc.want, tc.offset)
		}
	}
	if _, err := CanonicalValue(math.NaN()); err == nil {
		t.Error("NaN was written")
	}
}

// Names are ordered as their UTF-16 code units are, by an obvious method beside the quick one.
func TestOrderOfNames(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringOfN(rapid.RuneFrom([]rune{'a', 'b', 0x7f, 0xe9, 0xd7ff, 0xe000, 0xfb33, 0xffff, 0x10000, 0x1f600, 0x10ffff}), 0, 4, -1)
		a, b := text.Draw(t, "a"), text.Draw(t, "b")
		want := slices.Compare(utf16.Encode([]rune(a)), utf16.Encode([]rune(b)))
		if got := compareUTF16(a, b); sign(got) != want {
			t.Errorf("%q, %q: %d, want %d", a, b, got, want)
		}
	})
}

func sign(n int) int { return max(-1, min(n, 1)) }

// What is canonical beyond doubt is known without being read; whatever is not quite so is left to the parser.
func TestSpelt(t *testing.T) {
	deep := strings.Repeat("[", MaxJSONDepth) + strings.Repeat("]", MaxJSONDepth)
	for _, raw := range []string{`{}`, `[]`, `""`, `0`, `true`, `{"a":1,"b":{"a":[1,"ä",null,false]}}`, `{"A":0,"_":999999999999999,"a":""}`, "\"\x7f\"", deep} {
		if !spelt([]byte(raw)) {
			t.Errorf("%s is not known as canonical", raw)
		}
		if slow, err := respell([]byte(raw)); err != nil || string(slow) != raw {
			t.Errorf("%s is not canonical: %s, %v", raw, slow, err)
		}
	}
	for _, raw := range []string{
		"", " {}", "{} ", `{"a": 1}`, `{"b":1,"a":2}`, `{"a":1,"a":1}`, `{"a":1,}`, `{"a"}`, `{"a":}`, `[1,]`, `[,1]`, `[1`, `{"a":1`, `"a`, `01`, `-0`, `1.0`, `1e3`,
		`9007199254740993`, `"\u0041"`, `"\/"`, "\"\x00\"", "\"\x1f\"", "\"\xff\"", `nul`, `truefalse`, `1 2`, `{"a":1}}`, `[1]]`, "[" + deep + "]", `{"\u0061":1}`,
	} {
		if spelt([]byte(raw)) {
			t.Errorf("%q is taken for canonical", raw)
		}
	}
}

func FuzzCanonical(f *testing.F) {
	for _, seed := range []string{`{"b":[1.50,"\u00e9\ud83d\ude00",null],"a":{"":-0}}`, `[1e21,1e-7,9007199254740991,0.1]`, `"\ud800"`, `{"a":1,"a":2}`, " true ", "1e400"} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, raw []byte) {
		if spelt(raw) {
			if slow, err := respell(raw); err != nil || !bytes.Equal(slow, raw) {
				t.Fatalf("%q was taken for canonical, and is %q (%v)", raw, slow, err)
			}
		}
		once, err := Canonical(raw)
		if err != nil {
			var at *JSONError
			if !errors.As(err, &at) || at.Offset < 0 || at.Offset > len(raw) {
				t.Fatalf("%q: error without a place: %v", raw, err)
			}
			return
		}
		twice, err := Canonical(once)
		if err != nil || !bytes.Equal(once, twice) {
			t.Fatalf("%q became %q, then %q (%v)", raw, once, twice, err)
		}
		var before, after any
		if err := json.Unmarshal(raw, &before); err != nil {
			t.Fatalf("%q: accepted, but not JSON: %v", raw, err)
		}
		if err := json.Unmarshal(once, &after); err != nil {
			t.Fatalf("%q: written as %q, not JSON: %v", raw, once, err)
		}
		if !reflect.DeepEqual(before, after) {
			t.Fatalf("%q changed its meaning to %q", raw, once)
		}
	})
}
