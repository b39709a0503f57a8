// Package rules judges a site against a dated rule set and returns findings.
//
// A finding says where, what is wrong with the numbers, who can mend it and what to do, with the document, edition and
// clause behind it and how sure we are of that clause. Check is pure and deterministic: the same site, profile and day
// give the same findings in the same order. Nothing here says that a system meets a code: a rule that finds nothing has
// found nothing, and the adopted local code, the equipment's instructions and licensed practice come first.
//
// Start reading at Check, then Catalogue: every rule of the trade is there, with the function that judges it or the
// reason why none does. docs/rules.md is generated from the same list.
package rules

//go:generate go test -run TestCatalogueDocument -update .
