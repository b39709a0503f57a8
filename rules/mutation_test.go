package rules

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"

	"proofbell/demo"
	"proofbell/site"
)

// mutation breaks one thing of the corrected site.
type mutation struct {
	rule  string // the finding wanted
	place string // its first place: "zone 14"
	patch string
	also  string // other rules that rightly speak up too, "rule rule"
}

var mutations = []mutation{
	// Zones.
	{"zone.device.none", "zone 12", `{"zones":{"12":{"device":null,"terminal":null}}}`, "device.unzoned"},
	{"zone.device.none", "zone 40", `{"zones":{"40":{"label":"Hall heat","kind":"heat","area":"1"}}}`, "station.list"},
	{"zone.terminal", "zone 12", `{"zones":{"12":{"terminal":null}}}`, ""},
	{"zone.terminal", "zone 09", `{"zones":{"09":{"terminal":null}}}`, ""},
	{"zone.kind.none", "zone 13", `{"zones":{"13":{"kind":null}}}`, ""},
	{"zone.kind.senses", "zone 09", `{"zones":{"09":{"kind":"always-loud"}}}`, ""},
	{"zone.kind.senses", "zone 10", `{"zones":{"10":{"kind":"smoke","code":"111"}}}`, "station.list"},
	{"zone.kind.senses", "zone 12", `{"zones":{"12":{"kind":"observe"}}}`, ""},
	{"zone.kind.senses", "zone 14", `{"zones":{"14":{"kind":"smoke"}}}`, ""},
	{"zone.kind.senses", "zone 17", `{"zones":{"17":{"kind":"gas"}}}`, "zone.panel"},
	{"zone.kind.senses", "zone 03", `{"zones":{"03":{"kind":"heat"}}}`, "zone.fire.bypass zone.fire.tone zone.fire.window zone.label.danger"},
	{"zone.kind.fits", "zone 25", `{"zones":{"25":{"kind":"cold"}}}`, ""},
	{"zone.kind.fits", "zone 28", `{"zones":{"28":{"kind":"perimeter"}}}`, ""},
	{"zone.kind.fits", "zone 30", `{"zones":{"30":{"kind":"trouble"}}}`, "area.keypad"},
	{"zone.fire.verify", "zone 18", `{"zones":{"18":{"kind":"smoke-verified"}}}`, ""},
	{"zone.fire.verify", "zone 14", `{"zones":{"14":{"kind":"smoke-verified"}}}`, ""},
	{"zone.fire.verify", "zone 09", `{"zones":{"09":{"kind":"smoke-verified"}}}`, ""},
	{"zone.smoke.verify-radio", "zone 11", `{"zones":{"11":{"kind":"smoke-verified"}}}`, ""},
	{"zone.input.twice", "zone 12", `{"zones":{"13":{"device":"hall-smoke"}}}`, "device.unzoned"},
	{"zone.unused.device", "zone 07", `{"zones":{"07":{"kind":"unused"}}}`, "station.list"},
	{"device.unzoned", "device lounge-co", `{"zones":{"32":null},"station":{"zoneList":{"32":null}}}`, ""},
	{"zone.panel", "zone 49", `{"zones":{"33":null,"49":{"label":"Office smoke","kind":"smoke","area":"1","device":"office-smoke","terminal":"A","code":"111","paths":["main","backup"],"lossWindow":"200 s"}},"station":{"zoneList":{"33":null,"49":{"label":"Office smoke"}}}}`, ""},
	{"zone.panel", "zone 28", `{"zones":{"28":{"kind":"medical","code":"100"}},"station":{"zoneList":{"28":{"code":"100"}}}}`, ""},
	{"zone.panel", "zone 12", `{"areas":{"9":{"name":"Annex"}},"zones":{"12":{"area":"9"}}}`, ""},
	{"zone.panel", "zone 05", `{"zones":{"05":{"lossWindow":"12 h"}}}`, "zone.window.periods"},
	{"zone.panel", "zone 24", `{"zones":{"24":{"paths":["backup"]}}}`, ""},
	// Identities.
	{"zone.identity.check", "zone 12", `{"devices":{"hall-smoke":{"identity":"SD002743"}}}`, ""},
	{"zone.identity.check", "zone 16", `{"devices":{"kitchen-heat":{"identity":"HD002721"}}}`, ""},
	{"zone.identity.check", "zone 06", `{"devices":{"lounge-motion":{"identity":"MO2444"}}}`, ""},
	{"zone.identity.twice", "zone 17", `{"devices":{"wheel-hatch":{"identity":"CO001390"}}}`, ""},
	{"zone.identity.twice", "zone 11", `{"devices":{"lounge-smoke":{"identity":"SD001228"}}}`, ""},
	{"zone.identity.family", "zone 14", `{"devices":{"workshop-heat":{"identity":"SD007795"}}}`, ""},
	// Codes and paths.
	{"zone.code.form", "zone 25", `{"zones":{"25":{"code":"WA"}}}`, "station.list"},
	{"zone.code.life", "zone 17", `{"zones":{"17":{"code":"111"}},"station":{"zoneList":{"17":{"code":"111"}}}}`, ""},
	{"zone.code.life", "zone 18", `{"zones":{"18":{"code":"131"}},"station":{"zoneList":{"18":{"code":"131"}}}}`, ""},
	{"zone.code.kind", "zone 24", `{"zones":{"24":{"code":"111"}},"station":{"zoneList":{"24":{"code":"111"}}}}`, ""},
	{"zone.code.kind", "zone 26", `{"zones":{"26":{"code":"154"}},"station":{"zoneList":{"26":{"code":"154"}}}}`, ""},
	{"zone.fire.paths", "zone 11", `{"zones":{"11":{"paths":["main"]}}}`, ""},
	{"zone.fire.paths", "zone 32", `{"zones":{"32":{"paths":null}}}`, ""},
	{"zone.paths.none", "zone 01", `{"zones":{"01":{"paths":[]}}}`, ""},
	// Life safety.
	{"zone.fire.bypass", "zone 14", `{"zones":{"14":{"bypass":true}}}`, ""},
	{"zone.fire.bypass", "zone 32", `{"zones":{"32":{"bypass":true}}}`, ""},
	{"zone.fire.tone", "zone 16", `{"zones":{"16":{"doorTone":true}}}`, ""},
	{"zone.fire.limit", "zone 13", `{"zones":{"13":{"tripLimit":true}}}`, ""},
	{"zone.fire.window", "zone 15", `{"zones":{"15":{"lossWindow":"never"}}}`, ""},
	{"zone.fire.window", "zone 11", `{"zones":{"11":{"lossWindow":"24 h"}}}`, ""},
	{"zone.fire.window-long", "zone 11", `{"zones":{"11":{"lossWindow":"4 h"}}}`, ""},
	{"zone.window.never", "zone 01", `{"zones":{"01":{"lossWindow":"never"}}}`, ""},
	{"zone.window.periods", "zone 08", `{"zones":{"08":{"lossWindow":"4 h"}}}`, ""},
	{"zone.window.periods", "zone 11", `{"models":{"smoke-sounder":{"reports":"70 s"}}}`, ""},
	{"zone.window.carried", "zone 27", `{"zones":{"27":{"lossWindow":"24 h"}}}`, ""},
	{"circuit.end", "zone 30", `{"circuits":{"key-loop":{"endOfLine":null}}}`, ""},
	// The wing gets 0.68 V less than the terminals have and works down to 9 V; no cable carries 60 W so far.
	{"circuit.voltage", "circuit sounders", `{"circuits":{"sounders":{"supply":"9.6 V"}}}`, ""},
	{"circuit.voltage", "circuit sounders", `{"circuits":{"sounders":{"parts":{"wing":{"current":null,"power":"60 W"}}}}}`, ""},
	{"circuit.voltage", "circuit sounders", `{"circuits":{"sounders":{"parts":{"bell":{"device":"bell-box","length":"200 m"}}}}}`, ""},
	// 4.7 against 4.7 parallel to 47 kilohm; then a resistor that the panel does not want, and a contact that opens instead.
	{"circuit.windows", "circuit key-loop", `{"circuits":{"key-loop":{"input":{"alarm":"47 kilohm","windows":null}}}}`, ""},
	{"circuit.windows", "circuit key-loop", `{"circuits":{"key-loop":{"endOfLine":"5.6 kilohm"}}}`, ""},
	{"circuit.windows", "circuit key-loop", `{"circuits":{"key-loop":{"input":{"contacts":"open-on-alarm"}}}}`, ""},
	{"zone.panic.tone", "zone 28", `{"zones":{"28":{"doorTone":true}}}`, ""},
	{"zone.panic.bypass", "zone 27", `{"zones":{"27":{"bypass":true}}}`, ""},
	// Labels.
	{"zone.label.none", "zone 25", `{"zones":{"25":{"label":null}}}`, "station.list"},
	{"zone.label.twice", "zone 09", `{"zones":{"09":{"label":"Landing smoke"}},"station":{"zoneList":{"09":{"label":"Landing smoke"}}}}`, ""},
	{"zone.label.words", "zone 04", `{"zones":{"04":{"label":"Escape door up"}},"station":{"zoneList":{"04":{"label":"Escape door up"}}}}`, ""},
	{"zone.label.words", "zone 10", `{"zones":{"10":{"label":"Mains alarms CO"}},"station":{"zoneList":{"10":{"label":"Mains alarms CO"}}}}`, ""},
	{"zone.label.length", "zone 31", `{"zones":{"31":{"words":["OWNER","FLAT","SMOKE","UP","ONE"]}}}`, ""},
	{"zone.label.danger", "zone 31", `{"zones":{"31":{"label":"Owner flat"}},"station":{"zoneList":{"31":{"label":"Owner flat"}}}}`, ""},
	// Areas.
	{"zone.area.none", "zone 07", `{"zones":{"07":{"area":null}}}`, ""},
	{"zone.area.way", "zone 23", `{"zones":{"23":{"area":"3"}}}`, ""},
	{"zone.area.way", "zone 08", `{"zones":{"08":{"area":"3"}}}`, ""},
	{"area.entry", "area 3", `{"zones":{"29":{"kind":"perimeter","code":"131"}},"station":{"zoneList":{"29":{"code":"131"}}}}`, ""},
	{"area.keypad", "area 2", `{"zones":{"30":null},"devices":{"workshop-key":null},"station":{"zoneList":{"30":null}}}`, ""},
	// Settings.
	{"settings.abort.life", "setting abortWindow", `{"settings":{"abortWindow":{"applies":["burglary","fire"]}}}`, ""},
	{"settings.abort.life", "setting abortWindow", `{"settings":{"abortWindow":{"applies":["co"]}}}`, ""},
	{"settings.limit.life", "setting tripLimit", `{"settings":{"tripLimit":{"applies":["burglary","co"]}}}`, ""},
	{"settings.cross.life", "setting crossZones", `{"settings":{"crossZones":{"lounge":{"zones":["06","13"]}}}}`, ""},
	{"settings.cross.pair", "setting crossZones", `{"settings":{"crossZones":{"lounge":{"zones":["05","05"]}}}}`, ""},
	{"settings.cross.pair", "setting crossZones", `{"settings":{"crossZones":{"lounge":{"zones":["05","20"]}}}}`, ""},
	{"settings.exit", "setting exitDelay", `{"settings":{"exitDelay":"30 s"}}`, ""},
	{"settings.exit", "setting exitDelay", `{"settings":{"exitDelay":"5 min"}}`, ""},
	{"settings.entry", "setting entryDelay", `{"settings":{"entryDelay":"10 s"}}`, ""},
	{"settings.entry", "setting entryDelay2", `{"settings":{"entryDelay2":"10 min"}}`, ""},
	{"settings.abort", "setting abortWindow", `{"settings":{"abortWindow":{"time":"10 s"}}}`, ""},
	{"settings.entry-abort", "setting abortWindow", `{"settings":{"entryDelay":"45 s"}}`, ""},
	{"settings.limit", "setting tripLimit", `{"settings":{"tripLimit":{"trips":9}}}`, ""},
	{"settings.test", "setting periodicTest", `{"settings":{"periodicTest":"60 d"}}`, ""},
	{"settings.sounder", "setting fireSounder", `{"settings":{"fireSounder":"2 min"}}`, ""},
	// Power.
	{"power.battery", "power battery", `{"power":{"battery":"7.0 Ah"}}`, ""},
	{"power.battery", "power battery", `{"power":{"restLoad":"0.45 A"}}`, ""},
	{"power.alarm-time", "power alarmTime", `{"power":{"alarmTime":"4 min"}}`, ""},
	{"power.standby-time", "power standby", `{"power":{"standby":"12 h"}}`, ""},
	// Mains alarms and their bridge.
	{"bridge.group", "zone 09", `{"devices":{"bridge":{"hears":null}}}`, "group.unheard"},
	{"bridge.beside", "zone 09", `{"heads":{"M5":{"group":"N"}},"groups":{"N":{"name":"Others","link":"wired"}},"devices":{"bridge":{"beside":"M5"}}}`, "group.unheard sound.pillow"},
	{"bridge.pattern", "zone 10", `{"heads":{"M12":null}}`, ""},
	{"bridge.place", "zone 09", `{"devices":{"bridge":{"room":"F6","at":[7.5,7.0,5.2]}}}`, ""},
	{"bridge.place", "zone 09", `{"devices":{"bridge":{"at":[10.2,4.7,5.4]}}}`, ""},
	{"bridge.place", "zone 09", `{"devices":{"bridge":{"room":"G5","at":[7.0,6.0,2.5]}}}`, "bridge.hazard"},
	{"bridge.place", "zone 09", `{"devices":{"bridge":{"room":"G9","at":[22,7,2.5]}}}`, ""},                                                                                                                            // two doors away
	{"bridge.place", "zone 09", `{"storeys":{"attic":{"name":"Attic","level":"5.8 m","order":3}},"rooms":{"A1":{"name":"Loft","storey":"attic","use":"loft"}},"devices":{"bridge":{"room":"A1","at":[8,4.7,6]}}}`, ""}, // no head on the storey
	{"bridge.group", "zone 09", `{"groups":{"N":{"link":"wired"}},"devices":{"bridge":{"hears":"N","beside":null}}}`, "group.unheard"},
	{"zone.code.life", "zone 11", `{"zones":{"11":{"code":"131"}},"station":{"zoneList":{"11":{"code":"131"}}}}`, ""},
	{"zone.window.never", "zone 25", `{"zones":{"25":{"lossWindow":null}}}`, ""},
	{"zone.identity.family", "zone 05", `{"devices":{"hall-motion":{"identity":"HD005550"}}}`, ""},
	{"sound.pillow", "room F2", `{"heads":{"M6":{"level":"60 dBA"}}}`, ""},
	{"sound.pillow.doubt", "room F2", `{"heads":{"M6":{"level":"68 dBA"}}}`, ""},
	{"sound.tone", "room F2", `{"rooms":{"F2":{"beds":{"1":{"at":[2,1],"sleeper":"over-65"}}}}}`, ""},
	{"bridge.close", "zone 09", `{"devices":{"bridge":{"at":[8.1,4.7,5.5]}}}`, ""},
	{"bridge.hazard", "zone 09", `{"rooms":{"F1":{"hazards":["machine"]}}}`, ""},
	{"group.unheard", "group N", `{"heads":{"M1":{"group":"N"}},"groups":{"N":{"name":"Others","link":"wired"}}}`, "sound.pillow"},
	{"group.count", "group M", `{"heads":{"M13":{"kind":"smoke","group":"M","room":"G2","made":"2026-06"},"M14":{"kind":"smoke","group":"M","room":"G2","made":"2026-06"},"M15":{"kind":"smoke","group":"M","room":"G2","made":"2026-06"},"M16":{"kind":"smoke","group":"M","room":"G2","made":"2026-06"}}}`, "smoke.coverage"},
	{"group.supply", "head M6", `{"heads":{"M6":{"power":"battery"}}}`, ""},
	{"group.circuit", "group M", `{"groups":{"M":{"circuit":"sounders"}}}`, ""},
	{"head.alone", "head M7", `{"heads":{"M7":{"group":null}}}`, "sound.pillow"},
	{"co.alone", "head C1", `{"heads":{"C1":{"room":"G3","at":[5,8,1.6]}}}`, ""},
	// Ages.
	{"age.head.passed", "head M9", `{"heads":{"M9":{"made":"2015-03"}}}`, ""},
	{"age.head.passed", "head C1", `{"heads":{"C1":{"made":"2019-02"}}}`, ""},
	{"age.head.passed", "head C1", `{"heads":{"C1":{"made":"2019-02","life":null}}}`, ""},
	{"age.head.due", "head M3", `{"heads":{"M3":{"made":"2017-04"}}}`, ""},
	{"age.device.passed", "zone 17", `{"devices":{"boiler-co":{"made":"2019-01"}}}`, ""},
	{"age.device.due", "zone 11", `{"devices":{"landing-smoke":{"made":"2017-01"}}}`, ""},
	{"age.battery.passed", "zone 14", `{"devices":{"workshop-heat":{"battery":"2022-08"}}}`, ""},
	{"age.battery.due", "zone 14", `{"devices":{"workshop-heat":{"battery":"2024-03"}}}`, ""},
	{"age.panel-battery.passed", "power batteryDate", `{"power":{"batteryDate":"2021-05"}}`, ""},
	{"age.panel-battery.due", "power batteryDate", `{"power":{"batteryDate":"2023-01"}}`, ""},
	// Placement.
	{"sleep.detection", "room F7", `{"heads":{"M11":null},"devices":{"owner-flat-smoke":null},"zones":{"31":null},"station":{"zoneList":{"31":null}}}`, ""},
	{"sleep.detection", "room G2", `{"rooms":{"G2":{"sleeping":true}}}`, "sleep.outside co.sleeping"},
	{"sleep.outside", "room F4", `{"heads":{"M5":null},"devices":{"landing-smoke":{"at":[3,4.7,5.3]}}}`, "smoke.coverage"},
	{"storey.detection", "storey attic", `{"storeys":{"attic":{"name":"Attic","level":"5.8 m","order":3}},"rooms":{"A1":{"name":"Studio","storey":"attic","use":"office"}}}`, ""},
	{"co.fuel", "room G4", `{"devices":{"lounge-co":null},"zones":{"32":null},"station":{"zoneList":{"32":null}}}`, ""},
	{"co.fuel", "room G8", `{"rooms":{"G8":{"hazards":["dust","wood-stove"]}}}`, "co.sleeping"},
	{"co.sleeping", "storey attic", `{"storeys":{"attic":{"name":"Attic","level":"5.8 m","order":3}},"rooms":{"A1":{"name":"Studio","storey":"attic","use":"bedroom"}},"heads":{"M13":{"kind":"smoke","group":"M","room":"A1","made":"2026-06"}}}`, ""},
	{"panel.detection", "room G6", `{"devices":{"office-smoke":null},"zones":{"33":null},"station":{"zoneList":{"33":null}}}`, ""},
	{"smoke.kitchen", "head M3", `{"heads":{"M3":{"kind":"smoke"}}}`, ""},
	{"smoke.cooking", "head M13", `{"heads":{"M13":{"kind":"smoke","group":"M","room":"G2","at":[3,3.5,2.6],"made":"2026-06"}}}`, ""},
	{"smoke.bathroom", "head M4", `{"rooms":{"F6":{"use":"bathroom"}}}`, ""},
	{"smoke.hazard", "zone 33", `{"rooms":{"G6":{"hazards":["steam"]}}}`, ""},
	{"smoke.height", "head M6", `{"heads":{"M6":{"at":[3,2,4.4]}}}`, ""},
	{"smoke.coverage", "room G4", `{"heads":{"M2":{"at":[17.5,4.5,2.6]}},"devices":{"lounge-smoke":{"at":[17.5,4.0,2.6]}}}`, ""},
	{"motion.machine", "zone 23", `{"devices":{"wheel-room-motion":{"faces":"G7"}}}`, ""},
	{"motion.machine", "zone 08", `{"rooms":{"G6":{"hazards":["machine"]}}}`, ""},
	// Radio.
	{"radio.margin", "zone 14", `{"devices":{"wing-receiver":null}}`, "radio.margin"},
	{"radio.margin", "zone 16", `{"models":{"heat":{"transmitPower":"-40 dBm"}}}`, ""},
	{"radio.margin", "zone 15", `{"walls":{"wing-y6":{"material":"rubble-stone"}},"materials":{"rubble-stone":{"radioLoss":"60 dB"}}}`, "radio.margin"},
	// Account and people.
	{"path.backup", "path main", mainOnly, ""},
	{"path.kinds", "path main", `{"account":{"paths":{"backup":{"kind":"internet"}}}}`, ""},
	{"path.internet", "path main", `{"account":{"paths":{"backup":{"kind":"internet"}}},"premises":{"internet":{"standby":"none"}}}`, "path.kinds"},
	{"path.check", "path backup", `{"account":{"paths":{"backup":{"checkEvery":"24 h"}}}}`, ""},
	{"station.list", "station zoneList", `{"station":{"zoneList":{"16":{"label":"Kitchen door, burglary"}}}}`, ""},
	{"station.list", "station zoneList", `{"station":{"zoneList":{"25":null}}}`, ""},
	{"station.list", "station zoneList", `{"station":{"zoneList":{"40":{"label":"Old shed"}}}}`, ""},
	{"station.list", "station zoneList", `{"station":{"zoneList":{"11":{"code":"131"}}}}`, ""},
	{"contacts.reachable", "contact 2", `{"contacts":{"2":{"passcode":"none"}}}`, ""},
	{"contacts.reachable", "contact 2", `{"people":{"vell":{"phone":"555-0131"}}}`, ""},
	{"contacts.reachable", "contact 1", `{"contacts":{"2":null}}`, ""},
	{"contacts.incomplete", "contact 3", `{"contacts":{"3":{"person":"strand","passcode":"none"}}}`, ""},
	// Premises.
	{"guests.assessment", "premises riskAssessment", `{"premises":{"riskAssessment":"asked"}}`, ""},
	{"guests.assessment", "premises riskAssessment", `{"premises":{"riskAssessment":null}}`, ""},
	{"question.authority", "question guest-use", `{"questions":{"guest-use":{"answer":null}}}`, ""},
	{"question.authority", "premises use", `{"questions":{"guest-use":null}}`, ""},
	{"question.open", "question fire-verify", `{"questions":{"fire-verify":{"answer":null}}}`, ""},
	{"ruleset.unknown", "premises ruleSet", `{"ruleSet":{"id":"household-fire-burglary","edition":"2031-01"}}`, ""},
}

// mainOnly takes the second path out of the account and of every zone.
var mainOnly = func() string {
	var zones []string
	for n := 1; n <= 33; n++ {
		zones = append(zones, fmt.Sprintf(`"%02d":{"paths":["main"]}`, n))
	}
	return `{"account":{"paths":{"backup":null}},"zones":{` + strings.Join(zones, ",") + `}}`
}()

// encoded is a site as JSON, the form that patches apply to.
func encoded(t testing.TB, s *site.Site) []byte {
	t.Helper()
	text, err := site.EncodeJSON(s)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

func patched(t testing.TB, text []byte, patch string) (*site.Site, []byte) {
	t.Helper()
	out, err := site.Apply(text, site.Patch(patch))
	if err != nil {
		t.Fatalf("patch %s: %v", patch, err)
	}
	s, err := site.DecodeJSON("patched.json", out)
	if err != nil {
		t.Fatalf("patch %s: %v", patch, err)
	}
	return s, out
}

// fresh lists the judged findings of after that before does not have.
func fresh(before, after []Finding) []Finding {
	had := map[string]bool{}
	for _, f := range before {
		had[f.Key] = true
	}
	return slices.DeleteFunc(slices.Clone(after), func(f Finding) bool { return had[f.Key] || f.NotJudged })
}

// TestMutations breaks one thing at a time and wants the right rule to speak, and no other without reason.
func TestMutations(t *testing.T) {
	corrected := read(t, demo.Corrected)
	text, before := encoded(t, corrected), mustCheck(t, corrected)
	caught := map[string]bool{}
	for i, m := range mutations {
		t.Run(fmt.Sprintf("%d %s", i, m.rule), func(t *testing.T) {
			s, _ := patched(t, text, m.patch)
			after := mustCheck(t, s)
			hit, also := false, strings.Fields(m.also)
			for _, f := range fresh(before, after) {
				at := f.Places[0].Kind + " " + f.Places[0].ID
				switch {
				case f.Rule == m.rule && at == m.place:
					hit = true
				case f.Rule == m.rule && m.rule == "zone.window.periods" && strings.Contains(m.patch, "models"): // every zone of the model
				case slices.Contains(also, f.Rule):
				default:
					t.Errorf("%s breaks something else too:\n%s", m.patch, printed(f))
				}
				noPromise(t, f.Rule, f.Where+" "+f.Say+" "+f.Do)
			}
			if !hit {
				t.Errorf("%s at %s is not found after %s", m.rule, m.place, m.patch)
			}
			caught[m.rule] = true
		})
	}
	for _, r := range All() {
		if !caught[r.ID] {
			t.Errorf("no mutation tries rule %s", r.ID)
		}
	}
}

// TestPatchesMend applies the patch of every finding of the draft and of all mutations: the finding goes, and no stop comes.
func TestPatchesMend(t *testing.T) {
	try := func(name string, text []byte, s *site.Site) {
		before := mustCheck(t, s)
		for _, f := range before {
			if f.Patch == nil {
				if f.PatchSay != "" {
					t.Errorf("%s: %s tells of a patch it does not have", name, f.Rule)
				}
				continue
			}
			if f.PatchSay == "" {
				t.Errorf("%s: the patch of %s says nothing", name, f.Rule)
			}
			mended, _ := patched(t, text, string(f.Patch))
			after := mustCheck(t, mended)
			for _, g := range after {
				if g.Rule == f.Rule && slices.Equal(g.Places, f.Places) && !g.NotJudged {
					t.Errorf("%s: %s is still there after its patch %s:\n%s", name, f.Rule, f.Patch, printed(g))
				}
			}
			for _, g := range fresh(before, after) {
				if g.Severity == Stop {
					t.Errorf("%s: the patch of %s brings a new stop:\n%s", name, f.Rule, printed(g))
				}
			}
		}
	}
	draft := read(t, demo.Draft)
	try("draft", encoded(t, draft), draft)
	text := encoded(t, read(t, demo.Corrected))
	for _, m := range mutations {
		s, out := patched(t, text, m.patch)
		try(m.rule+" "+m.patch, out, s)
	}
}

// TestPatchesMendTogether applies all patches of the draft's stops one after the other: what the desk can mend is mended.
func TestPatchesMendTogether(t *testing.T) {
	s := read(t, demo.Draft)
	text := encoded(t, s)
	for range 50 {
		found := mustCheck(t, s)
		i := slices.IndexFunc(found, func(f Finding) bool { return f.Patch != nil && !f.NotJudged })
		if i < 0 {
			for _, f := range found {
				if f.Severity == Stop && f.Who == Desk {
					t.Errorf("the desk's stop has no patch:\n%s", printed(f))
				}
			}
			return
		}
		s, text = patched(t, text, string(found[i].Patch))
	}
	t.Error("patches go round in circles")
}

// A patch only ever names members that the site file has.
func TestPatchIsAnObject(t *testing.T) {
	for _, f := range mustCheck(t, read(t, demo.Draft)) {
		var members map[string]json.RawMessage
		if f.Patch != nil && json.Unmarshal(f.Patch, &members) != nil {
			t.Errorf("%s: patch %s is no object", f.Rule, f.Patch)
		}
	}
}
