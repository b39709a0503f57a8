package book

import (
	"cmp"
	"encoding/json"
	"strings"

	"proofbell/evidence"
	"proofbell/internal/prove"
	"proofbell/internal/words"
)

// collections names the collections of the site for the log.
var collections = map[string]string{
	"people": words.Mark("person"), "contacts": words.Mark("contact"), "storeys": words.Mark("storey"), "rooms": words.Mark("room"), "walls": words.Mark("wall"), "openings": words.Mark("opening"), "models": words.Mark("model"),
	"devices": words.Mark("device"), "heads": words.Mark("alarm"), "groups": words.Mark("group"), "circuits": words.Mark("circuit"), "areas": words.Mark("area"), "zones": words.Mark("zone"), "questions": words.Mark("question"),
	"materials": words.Mark("material"), "settings": words.Mark("settings"), "premises": words.Mark("premises"), "station": words.Mark("station"), "account": words.Mark("account"), "panel": words.Mark("panel"), "power": words.Mark("power"), "ruleSet": words.Mark("rule set"),
}

// Place says a JSON pointer into the site in words: "/zones/09/kind" is "zone 09, kind".
func Place(pointer string) words.Text {
	keys := split(pointer)
	word, known := collections[keys[0]]
	if !known {
		return words.Typed(strings.Join(keys, ", "))
	}
	thing := words.Marked(word)
	if len(keys) > 1 && strings.HasSuffix(keys[0], "s") && keys[0] != "settings" && keys[0] != "premises" {
		thing = words.Later("%s %s", thing, keys[1])
		keys = keys[1:]
	}
	for _, k := range keys[1:] {
		thing = words.Later("%s, %s", thing, words.Marked(member(k)))
	}
	return thing
}

// members are members of the site file whose names are not their words.
var members = map[string]string{
	"lossWindow": words.Mark("loss window"), "doorTone": words.Mark("door tone"), "tripLimit": words.Mark("trip limit"), "abortWindow": words.Mark("abort window"),
	"entryDelay": words.Mark("entry delay"), "entryDelay2": words.Mark("entry delay 2"), "exitDelay": words.Mark("exit delay"), "crossZones": words.Mark("cross-zones"), "periodicTest": words.Mark("periodic test"),
	"fireSounder": words.Mark("fire sounder"), "zoneList": words.Mark("zone list"), "at": words.Mark("place"),
	"accountOwner": words.Mark("owner of the account"), "alarmLoad": words.Mark("load in alarm"), "alarmTime": words.Mark("alarm time"), "batteryDate": words.Mark("battery date"),
	"batteryLife": words.Mark("battery life"), "checkEvery": words.Mark("checked every"), "emergencyNumber": words.Mark("emergency number"), "endOfLine": words.Mark("end of line"),
	"hostedOwner": words.Mark("owner of the hosted service"), "installerCode": words.Mark("installer code"), "liveFrom": words.Mark("going live on"), "noRestore": words.Mark("no restore"),
	"oldCodes": words.Mark("old codes"), "onTestPhone": words.Mark("number for tests"), "payingGuests": words.Mark("paying guests"), "radioLoss": words.Mark("radio loss"),
	"remoteAccess": words.Mark("remote access"), "restLoad": words.Mark("load at rest"), "riskAssessment": words.Mark("fire risk assessment"), "ruleSet": words.Mark("rule set"),
	"selfSounding": words.Mark("sounds by itself"), "serviceLife": words.Mark("service life"), "soundLoss": words.Mark("sound loss"), "testButton": words.Mark("test button"),
	"testWindow": words.Mark("test window"), "timeZone": words.Mark("time zone"), "toPanel": words.Mark("time to the panel"), "transmitPower": words.Mark("transmit power"),
	"restCurrent": words.Mark("current at rest"), "leastVoltage": words.Mark("least voltage"), "alarmCurrent": words.Mark("current in alarm"), "selfDischarge": words.Mark("self-discharge"), "shelfLife": words.Mark("shelf life"), "checkIn": words.Mark("check-in"),
	"visitsAYear": words.Mark("visits a year"), "wantedMargin": words.Mark("wanted margin"), "zoneListAsOf": words.Mark("day of the zone list"),
}

func member(key string) string {
	if word, known := members[key]; known {
		return word
	}
	return key
}

// reasons are what the pages give as the reason of an edit.
var _ = []string{words.Mark("keyed in"), words.Mark("takes the zones proposed"), words.Mark("Chose between two values")}

// reason says why an edit was made.
func reason(why string) words.Text {
	if rule, ok := strings.CutPrefix(why, "applies the fix of "); ok {
		return words.Later("applies the fix of %s", rule)
	}
	return words.Marked(why)
}

func sayEdit(s *State, b EditBody, done []assignment, met []Conflict) words.Text {
	var say words.Text
	switch {
	case s.Seq == 0 && len(s.Log) == 0:
		return words.Later("Opened the job")
	case b.Undo != "":
		say = words.Later("Took back an edit")
	case b.Why != "":
		say = reason(b.Why)
	case len(done) == 0:
		say = words.Later("Edited nothing")
	case len(done) == 1 && done[0].after == nil:
		say = words.Later("Deleted %s", Place(done[0].pointer))
	case len(done) == 1:
		say = words.Later("Edited %s", Place(done[0].pointer))
	default:
		say = words.Later("Edited %s and %d more", Place(done[0].pointer), len(done)-1)
	}
	if len(met) > 0 {
		say = words.Later("%s (%d met another edit)", say, len(met))
	}
	return say
}

func saySignal(b prove.SignalBody) words.Text {
	format := words.Mark("Signal %s %s, %s %d")
	switch {
	case b.DuplicateOf != "":
		format = words.Mark("Signal %s %s, %s %d, received once more")
	case !b.Acknowledged:
		format = words.Mark("Signal %s %s, %s %d, not answered")
	}
	return words.Later(format, b.Event.Code, words.Marked(prove.SayQualifier(b.Event.Qualifier)), words.Marked(string(b.Event.NumberIs)), b.Event.Number)
}

func sayRun(s *State, e evidence.Entry) words.Text {
	switch e.Kind {
	case evidence.KindRun:
		var b prove.RunBody
		_ = json.Unmarshal(e.Body, &b) // folded already, so it can be read
		switch b.Act {
		case prove.RunOpened:
			if b.Practice {
				return words.Later("Opened a practice run")
			}
			return words.Later("Opened a proving run")
		case prove.RunClosed:
			return words.Later("Closed the run")
		}
		return words.Later("Measured the clocks")
	case evidence.KindOnTest:
		var b prove.OnTestBody
		_ = json.Unmarshal(e.Body, &b)
		return words.Later("Station: %s", words.Marked(acts[b.Act]))
	case evidence.KindReadback:
		var b prove.ReadBackBody
		_ = json.Unmarshal(e.Body, &b)
		if len(b.Lines) == 1 {
			return words.Later("Station read back 1 line (%s)", words.Marked(string(b.Source)))
		}
		return words.Later("Station read back %d lines (%s)", len(b.Lines), words.Marked(string(b.Source)))
	case evidence.KindTick:
		var b prove.TickBody
		_ = json.Unmarshal(e.Body, &b)
		if b.Reason != "" {
			return words.Later("%s: %s, %s", b.Step, words.Marked(dids[b.What]), b.Reason)
		}
		return words.Later("%s: %s", b.Step, words.Marked(dids[b.What]))
	case evidence.KindPutback:
		var b prove.PutBackBody
		_ = json.Unmarshal(e.Body, &b)
		if b.Act == prove.PutBackMade {
			return words.Later("To put back: %s", words.Marked(b.What))
		}
		return words.Later("Put back")
	}
	return words.Typed(string(e.Kind))
}

// What was said to or by the station, and what was done at a step, in words.
var (
	acts = map[prove.Act]string{
		prove.ActCall: words.Mark("called"), prove.ActAccountRead: words.Mark("account read"), prove.ActOpen: words.Mark("put on test"), prove.ActFirstSignal: words.Mark("first signal"),
		prove.ActExtend: words.Mark("extended"), prove.ActLapse: words.Mark("ran out"), prove.ActReadBack: words.Mark("read back"), prove.ActOff: words.Mark("off test"), prove.ActAbandon: words.Mark("call dropped"),
	}
	dids = map[prove.Did]string{
		prove.Tripped: words.Mark("tripped"), prove.Sounded: words.Mark("sounded"), prove.PanelShowed: words.Mark("the panel shows it"), prove.Restored: words.Mark("restored"),
		prove.PanelReset: words.Mark("panel reset"), prove.CannotTest: words.Mark("not tested"), prove.Failed: words.Mark("failed"), prove.Withdrawn: words.Mark("taken back"),
	}
)

// Words of entries that are said in the log.
var _ = []string{
	words.Mark("zone"), words.Mark("user"), words.Mark("area"),
	words.Mark("phone"), words.Mark("history"), words.Mark("photo"), words.Mark("level"), words.Mark("signal"), words.Mark("voltage"), words.Mark("current"),
	words.Mark("resistance"), words.Mark("clock"), words.Mark("sound"), words.Mark("radio"), words.Mark("check-ins"), words.Mark("edit"), words.Mark("accept"), words.Mark("run"), words.Mark("ontest"), words.Mark("tick"),
	words.Mark("putback"), words.Mark("readback"), words.Mark("note"), words.Mark("reading"), words.Mark("blob"), words.Mark("issued"), words.Mark("sign"), words.Mark("visit"),
	words.Mark("readout"), words.Mark("keying"), words.Mark("practice"), words.Mark("profile"),
}

// severities are how grave a defect is, for the log.
var severities = map[string]string{"stop": words.Mark("stop"), "fix": words.Mark("fix"), "advise": words.Mark("advise")}

// documents are the titles of the documents, for the log; package papers makes them.
var documents = map[string]string{
	"owner-guide": words.Mark("Guide for the house"), "visit-report": words.Mark("Report of the visit"), "due-dates": words.Mark("What falls due"), "zone-list": words.Mark("Zone list for the station"),
	"station-contacts": words.Mark("People to call"), "station-actions": words.Mark("Operator's page"), "handover-record": words.Mark("Record of the finished system"), "commissioning": words.Mark("Commissioning record"),
	"device-register": words.Mark("Device register"), "existing-alarms": words.Mark("Self-contained alarms"), "keying-sheet": words.Mark("Keying sheet"),
	"floor-plans": words.Mark("Floor plans"), "sound-estimate": words.Mark("Sound in every room"), "radio-estimate": words.Mark("Radio of every device"), "alarms-wanted": words.Mark("Where alarms are wanting"), "calculations": words.Mark("Calculation sheets"),
	"keypad-reasons": words.Mark("What was keyed, and why"), "keypad-lessons": words.Mark("Keypad lessons"),
}

// DocumentTitle is the title of a kind of document, or its id when it is not known.
func DocumentTitle(kind string) words.Text { return words.Marked(cmp.Or(documents[kind], kind)) }
