package papers_test

import (
	"testing"

	"proofbell/internal/book"
	"proofbell/internal/papers"
)

// The log of a job calls a document as the document calls itself.
func TestTheLogKnowsTheTitles(t *testing.T) {
	for _, k := range papers.Kinds() {
		if got := book.DocumentTitle(k.ID).String(); got != k.Title {
			t.Errorf("%s is called %q in the log, and %q on its first page", k.ID, got, k.Title)
		}
	}
}
