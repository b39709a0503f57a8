package evidence

import (
	"bytes"
	"encoding/json"
	"errors"
	"testing"
	"time"
)

// RFC 9562 appendix A.6: 2022-02-22 14:22:22.00 -05:00, rand_a CC3, rand_b 18C4DC0C0C07398F.
func TestUUIDOfTheRFC(t *testing.T) {
	at := time.Date(2022, 2, 22, 14, 22, 22, 0, time.FixedZone("", -5*3600))
	random := []byte{0xfc, 0xc3, 0x58, 0xc4, 0xdc, 0x0c, 0x0c, 0x07, 0x39, 0x8f} // version and variant are laid over
	id, err := NewEntryID(at, bytes.NewReader(random))
	if want := EntryID("017f22e2-79b0-7cc3-98c4-dc0c0c07398f"); err != nil || id != want || !id.Valid() {
		t.Errorf("%s, %v, want %s", id, err, want)
	}
}

func TestIDsRefused(t *testing.T) {
	if _, err := NewJobID(testTime, bytes.NewReader(make([]byte, 9))); err == nil {
		t.Error("an id was made from 9 random bytes")
	}
	for _, at := range []time.Time{time.UnixMilli(-1), time.UnixMilli(1 << 48)} {
		if id, err := NewEntryID(at, new(counter)); !errors.Is(err, ErrID) {
			t.Errorf("%v: %s, %v", at, id, err)
		}
	}
	for _, bad := range []EntryID{
		"", "017f22e2-79b0-4cc3-98c4-dc0c0c07398f", "017f22e2-79b0-7cc3-c8c4-dc0c0c07398f", "017f22e2-79b0-7cc3-:8c4-dc0c0c07398f",
		"017F22E2-79B0-7CC3-98C4-DC0C0C07398F", "017f22e279b0-7cc3-98c4--dc0c0c07398f", "017f22e2-79b0-7cc3-98c4-dc0c0c07398", "017f22e2-79b0-7cc3-98c4-dc0c0c07398g",
	} {
		if bad.Valid() {
			t.Errorf("%q is taken for a UUIDv7", bad)
		}
	}
	for _, bad := range []PersonID{"", "Imelda Thrane", "p|1", "é", PersonID(bytes.Repeat([]byte("a"), 65))} {
		if bad.Valid() {
			t.Errorf("%q is taken for an opaque id", bad)
		}
	}
	for _, bad := range []Kind{"", "Edit", "9", "-", "a_b", Kind(bytes.Repeat([]byte("a"), 33))} {
		if bad.Valid() {
			t.Errorf("%q is taken for a kind", bad)
		}
	}
}

func TestDerivedIDs(t *testing.T) {
	// printf '%s' 'receiver-1/42' | sha256sum begins a82ddfb6cd856ad3833e; the time is 0x1a0a63d8680 ms.
	a := must[EntryID](t)(DerivedEntryID(testTime, "receiver-1/42"))
	if want := EntryID("01a0a63d-8680-782d-9fb6-cd856ad3833e"); a != want {
		t.Errorf("%s, want %s", a, want)
	}
	b := must[EntryID](t)(DerivedEntryID(testTime.Add(999*time.Microsecond), "receiver-1/42"))
	c := must[EntryID](t)(DerivedEntryID(testTime, "receiver-1/43"))
	if a != b || a == c || !a.Valid() {
		t.Errorf("%s, again %s, of the next row %s", a, b, c)
	}
}

func TestTimeHasOneForm(t *testing.T) {
	local := time.Date(2026, 9, 15, 14, 4, 5, 120_999_999, time.FixedZone("", -4*3600))
	if got, want := TimeOf(local), TimeOf(testTime); got != want || got.String() != "2026-09-15T18:04:05.120Z" {
		t.Errorf("%v, want %v", got, want)
	}
	raw, err := json.Marshal(TimeOf(testTime))
	var back Time
	if err != nil || json.Unmarshal(raw, &back) != nil || back != TimeOf(testTime) {
		t.Errorf("%s came back as %v (%v)", raw, back, err)
	}
	if _, err := json.Marshal(Time{}); err == nil {
		t.Error("the zero time was written")
	}
	for _, bad := range []string{
		"", "2026-09-15T18:04:05Z", "2026-09-15T18:04:05.12Z", "2026-09-15T18:04:05.1200Z", "2026-09-15T18:04:05,120Z",
		"2026-09-15t18:04:05.120z", "2026-09-15T18:04:60.120Z", "2026-02-30T18:04:05.120Z", "1969-12-31T23:59:59.999Z", "2026-09-15T18:04:05.120+00:00",
	} {
		if err := back.UnmarshalText([]byte(bad)); err == nil {
			t.Errorf("%q was read as %v", bad, back)
		}
	}
}
