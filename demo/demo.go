// Package demo holds the fictional scenario that ships with the product: Larkwater Mill, as drafted and as corrected.
package demo

import _ "embed"

// Draft is the site file as first drafted, before anyone has checked it.
//
//go:embed larkwater-draft.yaml
var Draft []byte

// Corrected is the same site after the survey.
//
//go:embed larkwater.yaml
var Corrected []byte

// History is a made-up year of the same building as its station would write it, with three causes planted in it.
//
//go:embed larkwater-history.csv
var History []byte
