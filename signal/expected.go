package signal

import "slices"

// Pair is the code that reports a condition and the one that ends it. For Contact ID both
// are the same code, sent with qualifier 1 and 3. Also are further codes that some panels
// send in their place.
type Pair struct {
	Begin     string   `json:"begin"` // "" when the format has no code for it
	End       string   `json:"end"`   // "" when nothing ends it
	AlsoBegin []string `json:"alsoBegin,omitempty"`
	AlsoEnd   []string `json:"alsoEnd,omitempty"`
}

// Begins reports whether code reports the condition.
func (p Pair) Begins(code string) bool {
	return code != "" && (code == p.Begin || slices.Contains(p.AlsoBegin, code))
}

// Expected are the codes a zone of some kind sends by default. The pairing of a device and
// its codes is trade practice, not the standard: the station's own list decides, and the
// technician can change every one.
type Expected struct {
	ZoneKind   string `json:"zoneKind"`
	Format     Format `json:"format"`
	Alarm      Pair   `json:"alarm"`
	Trouble    Pair   `json:"trouble"`
	Tamper     Pair   `json:"tamper"`
	Battery    Pair   `json:"battery"` // radio device battery low
	Missing    Pair   `json:"missing"` // no longer heard
	Bypass     Pair   `json:"bypass"`
	WalkTested string `json:"walkTested"` // point seen in the panel's walk test: no proof of the way to the station
}

// ExpectedFor returns the default codes of a zone kind: smoke, smoke-verified, heat,
// call-point, co, gas, water, cold, entry-1, entry-2, perimeter, inside, always-loud,
// always-quiet, panic-loud, panic-quiet, medical, keyswitch, trouble, observe. It reports
// false, with empty pairs, for any other kind or format. A keyswitch has no alarm of its own:
// its Alarm pair is opening and closing. A trouble zone has only trouble; an observe zone
// reports nothing.
//
// "-verified" changes when a zone alarms, not its code.
func ExpectedFor(format Format, zoneKind string) (Expected, bool) {
	e := Expected{ZoneKind: zoneKind, Format: format}
	d, ok := expectedDefaults[zoneKind]
	if !ok || format != CID && format != SIADCS {
		return e, false
	}
	if format == CID {
		same := func(code string, also ...string) Pair {
			return Pair{Begin: code, End: code, AlsoBegin: also, AlsoEnd: also}
		}
		if d.cid.alarm != "" {
			e.Alarm = same(d.cid.alarm, d.cid.alsoAlarm...)
		}
		if d.cid.trouble == "" {
			return e, true
		}
		e.Trouble = same(d.cid.trouble, d.cid.alsoTrouble...)
		e.Tamper = same("383", d.cid.alsoTamper...)
		e.Battery = same("384")
		e.Missing = same("381", "382")
		if d.cid.bypass != "" {
			e.Bypass = same(d.cid.bypass, "570")
		}
		e.WalkTested = d.cid.walk
		return e, true
	}
	pair := func(code string, also ...string) Pair {
		p := Pair{Begin: code, AlsoBegin: also}
		for _, c := range append([]string{code}, also...) {
			for _, end := range ExpectedRestore(SIADCS, c) {
				if p.End == "" {
					p.End = end
				} else if end != p.End && !slices.Contains(p.AlsoEnd, end) {
					p.AlsoEnd = append(p.AlsoEnd, end)
				}
			}
		}
		return p
	}
	if d.sia.alarm != "" {
		e.Alarm = pair(d.sia.alarm, d.sia.alsoAlarm...)
	}
	if d.sia.trouble == "" {
		return e, true
	}
	e.Trouble = pair(d.sia.trouble)
	e.Tamper = pair("TA", "TT")
	e.Battery = pair("XT")
	e.Missing = pair(d.sia.missing, d.sia.alsoMissing...)
	if d.sia.bypass != "" {
		e.Bypass = pair(d.sia.bypass)
	}
	e.WalkTested = d.sia.walk
	return e, true
}

// ZoneKinds lists the kinds that ExpectedFor knows, sorted.
func ZoneKinds() []string {
	kinds := make([]string, 0, len(expectedDefaults))
	for k := range expectedDefaults {
		kinds = append(kinds, k)
	}
	slices.Sort(kinds)
	return kinds
}

type cidDefault struct {
	alarm, trouble, bypass, walk       string
	alsoAlarm, alsoTrouble, alsoTamper []string
}

type siaDefault struct {
	alarm, trouble, missing, bypass, walk string
	alsoAlarm, alsoMissing                []string
}

type kindDefault struct {
	cid cidDefault
	sia siaDefault
}

var expectedDefaults = func() map[string]kindDefault {
	fire := func(alarm string, also ...string) kindDefault {
		return kindDefault{
			cidDefault{alarm: alarm, alsoAlarm: also, trouble: "373", bypass: "571", walk: "614"},
			siaDefault{alarm: "FA", trouble: "FT", missing: "FY", bypass: "FB", walk: "FX"},
		}
	}
	heat := fire("114")
	heat.sia = siaDefault{alarm: "KA", alsoAlarm: []string{"FA"}, trouble: "KT", missing: "FY", bypass: "KB", walk: "TP"}
	air := func(alarm string, alsoTrouble ...string) kindDefault {
		return kindDefault{
			cidDefault{alarm: alarm, trouble: "380", alsoTrouble: alsoTrouble, bypass: "572", walk: "611"},
			siaDefault{alarm: "GA", trouble: "GT", missing: "UY", alsoMissing: []string{"UZ"}, bypass: "GB", walk: "GX"},
		}
	}
	house := func(alarm, letter string) kindDefault {
		return kindDefault{
			cidDefault{alarm: alarm, trouble: "380", bypass: "572", walk: "611"},
			siaDefault{alarm: letter + "A", trouble: letter + "T", missing: "UY", alsoMissing: []string{"UZ"}, bypass: letter + "B", walk: "TP"},
		}
	}
	burglary := func(alarm, bypass string) kindDefault {
		return kindDefault{
			cidDefault{alarm: alarm, trouble: "380", alsoTrouble: []string{"371", "372"}, alsoTamper: []string{"137", "144"}, bypass: bypass, walk: "613"},
			siaDefault{alarm: "BA", trouble: "BT", missing: "BZ", bypass: "BB", walk: "BX"},
		}
	}
	button := func(alarm string, also ...string) kindDefault {
		k := house(alarm, "P")
		k.cid.alsoAlarm, k.cid.trouble, k.cid.walk = also, "375", "615"
		return k
	}
	quiet := burglary("133", "572")
	quiet.cid.alsoAlarm = []string{"146"}
	return map[string]kindDefault{
		"smoke":          fire("111", "110"),
		"smoke-verified": fire("111", "110"),
		"call-point":     fire("115"),
		"heat":           heat,
		"co":             air("162", "373"), // on a fire loop the panel reports its trouble as fire
		"gas":            air("151"),
		"water":          house("154", "W"),
		"cold":           house("159", "Z"),
		"medical":        house("100", "M"),
		"entry-1":        burglary("134", "573"),
		"entry-2":        burglary("134", "573"),
		"perimeter":      burglary("131", "573"),
		"inside":         burglary("132", "573"),
		"always-loud":    burglary("133", "572"),
		"always-quiet":   quiet,
		"panic-loud":     button("123", "120"),
		"panic-quiet":    button("122", "120"),
		"keyswitch":      {cidDefault{alarm: "409", alsoAlarm: []string{"442"}}, siaDefault{alarm: "OS"}},
		"trouble":        {cidDefault{trouble: "380", alsoTrouble: []string{"373"}, walk: "611"}, siaDefault{trouble: "UT", missing: "UY", alsoMissing: []string{"UZ"}, walk: "TP"}},
		"observe":        {},
	}
}()
