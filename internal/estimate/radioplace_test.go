package estimate

import (
	"math"
	"slices"
	"testing"

	"proofbell/demo"
	"proofbell/site"
)

// The draft's six short links: one repeater, or one second receiver, cures them, and put into the draft every link has margin.
func TestProposalCuresTheWing(t *testing.T) {
	for _, wired := range []bool{false, true} {
		s := readSite(t, demo.Draft)
		p := RadioOf(s, nil, RadioTold{}).Repeaters(wired)
		if len(p.Short) != 6 || len(p.Spots) != 1 || p.AtLeast != 1 || !p.Best || len(p.Unserved) != 0 || p.Worst < 15 {
			t.Fatalf("wired %v: %+v", wired, p)
		}
		spot := p.Spots[0]
		if len(spot.Serves) != 6 || spot.Worst != p.Worst || spot.Room == "G7" || !wired && spot.Back < 15 {
			t.Errorf("wired %v: %+v", wired, spot)
		}
		t.Logf("wired %v: %v %v, weakest %v, back %v, of %d places", wired, spot.Room, spot.At, p.Worst, spot.Back, p.Tried)
		r := RadioOf(readSite(t, demo.Draft, string(p.Patch)), nil, RadioTold{})
		weakest := math.Inf(1)
		for _, l := range r.Links {
			if l.Verdict != Enough {
				t.Errorf("wired %v: %s still has %v", wired, l.Device, l.Margin)
			}
			if slices.Contains(p.Short, l.Device) {
				weakest = math.Min(weakest, l.Margin)
			}
		}
		if weakest != p.Worst {
			t.Errorf("wired %v: promised %v, found %v", wired, p.Worst, weakest)
		}
	}
}

func TestNothingToPropose(t *testing.T) {
	p := RadioOf(readSite(t, demo.Corrected), nil, RadioTold{}).Repeaters(false)
	if len(p.Short) != 0 || len(p.Spots) != 0 || p.Patch != nil {
		t.Errorf("%+v", p)
	}
	// A device behind what nothing gets through is named.
	blocked := `{"materials":{"wheel-stone":{"radioLoss":"190 dB"},"rubble-stone":{"radioLoss":"190 dB"},"joist-floor":{"radioLoss":"190 dB"}}}`
	p = RadioOf(readSite(t, demo.Draft, blocked), nil, RadioTold{}).Repeaters(false)
	if !slices.Contains(p.Unserved, site.DeviceID("wheel-room-cold")) {
		t.Errorf("unserved: %v", p.Unserved)
	}
}
