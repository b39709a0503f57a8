// Package records writes documents from finished facts. It computes nothing: what a document says was decided before.
package records

import "proofbell/internal/drawing"

// Facts are what the record of a job says, in words ready to print.
type Facts struct {
	Title     string   // "Record of a job"
	Name      string   // of the site
	Practice  bool     // stamped on every page: can never become a certificate
	Paper     string   // "A4" or "Letter"
	Date      string   // of the record: "2026-09-15 14:31"
	Unix      int64    // the same moment, for the file's own dates
	Sheet     []Pair   // site, account, panel, rule set ...
	Cautions  []string // printed before anything else
	Storeys   []drawing.Plan
	Zones     Table
	Results   []Result
	Summary   string // "19 of 30 proved, 2 failed"
	NotProved []Pair // by verdict
	Findings  []Finding
	Heads     Table
	OnTest    []Pair // who, when, reference
	Chain     Chain
}

// Pair is a line of a data sheet.
type Pair struct{ Name, Value string }

// Table is a table with widths in parts of the whole.
type Table struct {
	Title  string
	Head   []string
	Widths []float64
	Rows   [][]string
	Empty  string // said when there are no rows
}

// Result is one step of a run.
type Result struct {
	Zone  string
	Title string
	Say   string
	Stops [4]string // detector, panel, line, station: unproved, waiting, half, proved, failed
	Hops  [3]string // "1.9 s", "read back"
}

// Finding is what a rule found.
type Finding struct {
	Severity string // STOP, FIX, ADVICE, ACCEPTED
	Where    string
	Say      string
	Who      string
}

// Chain is the head of the job book that the record was made from.
type Chain struct {
	Job         string
	Seq         int64
	Hash        string
	Fingerprint string // of the signer
	Signature   string
}
