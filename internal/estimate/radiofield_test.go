package estimate

import (
	"encoding/base64"
	"math"
	"testing"

	"proofbell/demo"
	"proofbell/geom"
	"proofbell/internal/words"
)

// The field says in every cell what a single link from there says, for the panel, through a repeater, and for one device's own field.
func TestRadioFieldIsWhatLinksSay(t *testing.T) {
	repeater := `{"models":{"rr":{"name":"Repeater","class":"repeater","link":"radio","transmitPower":"10 dBm"}},"devices":{"rep":{"model":"rr","room":"G4","at":[16,1,2.2]}}}`
	for _, c := range []struct{ patch, source string }{{`{}`, ""}, {repeater, ""}, {repeater, "/devices/rep"}, {`{}`, "/devices/paper-store-smoke"}} {
		s := readSite(t, demo.Draft, c.patch)
		r := RadioOf(s, nil, RadioTold{})
		for _, storey := range []string{"ground", "upper"} {
			v, err := r.Field(words.In("en"), FieldAsk{Storey: r.b.Storeys[0].ID, Step: 0.7, Source: c.source})
			if storey == "upper" {
				v, err = r.Field(words.In("en"), FieldAsk{Storey: r.b.Storeys[1].ID, Step: 0.7, Source: c.source})
			}
			if err != nil {
				t.Fatal(err)
			}
			cells, _ := base64.StdEncoding.DecodeString(v.Bands)
			level := 0.0
			if storey == "upper" {
				level = r.b.Storeys[1].Level
			}
			seen := map[byte]int{}
			for i, band := range cells {
				at := geom.Point3{X: v.Min[0] + (float64(i%v.W)+0.5)*v.Step, Y: v.Min[1] + (float64(i/v.W)+0.5)*v.Step, Z: level + v.Height}
				if _, inside := r.b.RoomAt(at); !inside {
					continue
				}
				best := math.Inf(-1)
				for _, to := range r.Receivers {
					from, there, power := at, to, 10.0
					if c.source == "/devices/paper-store-smoke" {
						from, _, _ = r.b.Place(s.Devices["paper-store-smoke"].At, "G9")
						there.At = at
					} else if c.source != "" && c.source != pointerOf(to.Device) {
						continue
					}
					h := r.hop("", from, power, 0, there, nil)
					if !h.known() {
						continue
					}
					margin := h.Margin
					if to.Back != nil && c.source != "/devices/paper-store-smoke" {
						margin = math.Min(margin, to.Back.Margin)
					}
					best = math.Max(best, margin)
				}
				want := byte(255)
				for k, m := range v.Steps {
					if math.Abs(best-m) < 0.15 { // hops are rounded to 0.1 dB
						want = 254
						break
					}
					if best >= m {
						want = byte(k)
					}
				}
				if want != 254 && band != want {
					t.Fatalf("%s %s at %v: band %d, the link says %v", c.source, storey, at, band, best)
				}
				seen[band]++
			}
			if storey == "ground" && len(seen) < 3 {
				t.Errorf("%s: %v", c.source, seen)
			}
		}
	}
}
