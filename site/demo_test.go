package site_test

import (
	"testing"

	"proofbell/demo"
	"proofbell/site"
)

// The counts are those of the scenario's tables: 16 rooms, 30 drafted zones over 29 devices (two zones share the
// bridge), with five devices that have no zone, ten heads in the group and one alone.
func TestDemoDecodes(t *testing.T) {
	draft, err := site.DecodeYAML("larkwater-draft.yaml", demo.Draft)
	if err != nil {
		t.Fatal(err)
	}
	if len(draft.Rooms) != 16 || len(draft.Zones) != 30 || len(draft.Devices) != 34 || len(draft.Heads) != 11 {
		t.Errorf("draft: %d rooms, %d zones, %d devices, %d heads", len(draft.Rooms), len(draft.Zones), len(draft.Devices), len(draft.Heads))
	}
	corrected, err := site.DecodeYAML("larkwater.yaml", demo.Corrected)
	if err != nil {
		t.Fatal(err)
	}
	if len(corrected.Zones) != 33 || len(corrected.Devices) != 38 || len(corrected.Heads) != 13 {
		t.Errorf("corrected: %d zones, %d devices, %d heads", len(corrected.Zones), len(corrected.Devices), len(corrected.Heads))
	}
}
