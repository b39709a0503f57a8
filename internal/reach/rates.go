package reach

import (
	"proofbell/internal/words"
	"proofbell/internal/worked"
	"proofbell/reliability"
)

// unit says what a figure of the table is.
type unit int

const (
	perHour unit = iota // failures an hour
	chance              // probability when it is asked for
)

// rate is a row of the table: what is known of a kind of part, as a range.
type rate struct {
	id         string
	name       string
	unit       unit
	of         reliability.Range
	source     string
	confidence string
}

// table holds the figures to start with. They are planning figures: ranges from few and old sources, to be replaced by own
// records. Where a source gives no middle, it is the geometric one.
var table = []rate{
	{"head", words.Mark("Self-contained smoke or heat alarm, own failure"), perHour, reliability.Range{Low: 2e-6, Mid: 4e-6, High: 8e-6}, words.Mark("NFPA public fact sheet: 4 per million hours, 30 % in ten years; range of factor two ours"), worked.Medium},
	{"button", words.Mark("Share of a head's failures that its test button shows"), chance, reliability.Range{Low: 0.5, Mid: 0.7, High: 0.9}, words.Mark("NFPA home fire reports: two thirds to three quarters did not sound for want of power or battery; range ours"), worked.Low},
	{"cell", words.Mark("Battery of a head, flat or missing when the mains is off"), chance, reliability.Range{Low: 0.01, Mid: 0.05, High: 0.15}, words.Mark("NFPA home fire reports, shares of causes; range ours"), worked.Low},
	{"joint", words.Mark("Interconnect by wire, unseen"), perHour, reliability.Range{Low: 1e-7, Mid: 2.2e-7, High: 5e-7}, words.Mark("as a wired loop: industrial data, no source opened"), worked.Low},
	{"joint-radio", words.Mark("Interconnect by radio, unseen"), perHour, reliability.Range{Low: 5e-7, Mid: 1.2e-6, High: 3e-6}, words.Mark("as a radio module: industrial data, no source opened"), worked.Low},
	{"detector", words.Mark("Smoke or heat detector of a system, unseen"), perHour, reliability.Range{Low: 2e-7, Mid: 4.5e-7, High: 1e-6}, words.Mark("industrial data books, no source opened"), worked.Low},
	{"listener", words.Mark("Listening part of a bridge, or relay of a contact module, unseen"), perHour, reliability.Range{Low: 2e-7, Mid: 4.5e-7, High: 1e-6}, words.Mark("as a detector of a system; ours"), worked.Low},
	{"module", words.Mark("Radio module with its battery"), perHour, reliability.Range{Low: 5e-7, Mid: 1.2e-6, High: 3e-6}, words.Mark("industrial data, no source opened"), worked.Low},
	{"loop", words.Mark("Wired loop, by zone, unseen"), perHour, reliability.Range{Low: 1e-7, Mid: 2.2e-7, High: 5e-7}, words.Mark("industrial data, no source opened"), worked.Low},
	{"panel", words.Mark("Control panel"), perHour, reliability.Range{Low: 1e-6, Mid: 2.2e-6, High: 5e-6}, words.Mark("industrial data, no source opened"), worked.Low},
	{"seen", words.Mark("Share of the panel's failures that it reports itself"), chance, reliability.Range{Low: 0.6, Mid: 0.75, High: 0.9}, words.Mark("industrial data, no source opened"), worked.Low},
	{"communicator", words.Mark("Communicator of a path"), perHour, reliability.Range{Low: 1e-6, Mid: 2.2e-6, High: 5e-6}, words.Mark("as a control panel; ours"), worked.Low},
	{"mains", words.Mark("Mains"), chance, reliability.Range{Low: 2.0 / 8760, Mid: 4.7 / 8760, High: 8.0 / 8760}, words.Mark("EIA reliability statistics: 4.7 to 8 h a year, 2017 to 2022; about 2 h without major events"), worked.High},
	{"standby-new", words.Mark("Standby battery, lead, up to 3 years old"), chance, reliability.Range{Low: 0.01, Mid: 0.02, High: 0.05}, words.Mark("service experience, no source opened"), worked.Low},
	{"standby-old", words.Mark("Standby battery, lead, older than 3 years"), chance, reliability.Range{Low: 0.05, Mid: 0.1, High: 0.2}, words.Mark("service experience, no source opened"), worked.Low},
	{"standby", words.Mark("Standby battery, lead, age not known"), chance, reliability.Range{Low: 0.01, Mid: 0.05, High: 0.2}, words.Mark("service experience, no source opened"), worked.Low},
	{"broadband", words.Mark("House internet, line and equipment"), chance, reliability.Range{Low: 0.001, Mid: 0.003, High: 0.01}, words.Mark("US regulator's probe data, published 2017 and 2018; range ours"), worked.Low},
	{"mobile", words.Mark("Mobile network at a fixed place with good level"), chance, reliability.Range{Low: 0.001, Mid: 0.002, High: 0.005}, words.Mark("no source opened"), worked.Low},
	{"telephone", words.Mark("Telephone line"), chance, reliability.Range{Low: 0.001, Mid: 0.003, High: 0.01}, words.Mark("as house internet; ours"), worked.Low},
	{"station", words.Mark("Way at the station, from its receiver to the operator"), chance, reliability.Range{Low: 0.0001, Mid: 0.0003, High: 0.001}, words.Mark("no source opened"), worked.Low},
	{"people", words.Mark("Account, zone text or settings wrong, or left on test"), chance, reliability.Range{Low: 0.005, Mid: 0.016, High: 0.05}, words.Mark("service experience: in 0.5 to 5 of 100 systems; no study found"), worked.Low},
	{"link-unknown", words.Mark("Radio link that could not be estimated"), chance, reliability.Range{Low: 0.001, Mid: 0.01, High: 0.1}, words.Mark("ours"), worked.Low},
	{"sounder", words.Mark("Sounders of the panel and their circuit"), perHour, reliability.Range{Low: 1e-7, Mid: 2.2e-7, High: 5e-7}, words.Mark("as a wired loop: industrial data, no source opened"), worked.Low},
	{"heard-enough", words.Mark("Alarm not heard though the estimate says enough"), chance, reliability.Range{Low: 0.001, Mid: 0.01, High: 0.05}, words.Mark("margin above the stated uncertainty of the sound model; range ours"), worked.Low},
	{"heard-doubtful", words.Mark("Alarm not heard where the estimate says doubtful"), chance, reliability.Range{Low: 0.05, Mid: 0.5, High: 0.95}, words.Mark("margin within the stated uncertainty of the sound model; range ours"), worked.Low},
	{"heard-unknown", words.Mark("Alarm not heard where nothing could be estimated"), chance, reliability.Range{Low: 0.01, Mid: 0.5, High: 1}, words.Mark("ours"), worked.Low},
}

func rateOf(id string) *rate {
	for i := range table {
		if table[i].id == id {
			return &table[i]
		}
	}
	panic("reach: no rate " + id) // tested: all that are used are there
}

// beta is the share of failures that like parts of which one is enough have together: 10 %, same kind in the same
// surroundings; IEC 61508-6 annex D, medium confidence.
const beta = 0.1
