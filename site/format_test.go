package site_test

import (
	"bytes"
	"os"
	"testing"

	"proofbell/site"
)

// What a file of the first day says must be read the same for ever: the JSON beside it was checked by eye and changes
// only by review.
func TestOldFilesOpen(t *testing.T) {
	text, err := os.ReadFile("testdata/every-member-1.yaml")
	if err != nil {
		t.Fatal(err)
	}
	want, err := os.ReadFile("testdata/every-member-1.json")
	if err != nil {
		t.Fatal(err)
	}
	s, err := site.DecodeYAML("every-member-1.yaml", text)
	if err != nil {
		t.Fatal(err)
	}
	got, err := site.EncodeJSON(s)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, bytes.TrimSpace(want)) {
		t.Errorf("read as\n%s", got)
	}
}
