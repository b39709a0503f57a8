package book

import (
	"encoding/json"
	"fmt"
	"strings"

	"proofbell/evidence"
	"proofbell/internal/prove"
)

// collections names the collections of the site for the log.
var collections = map[string]string{
	"people": "person", "contacts": "contact", "storeys": "storey", "rooms": "room", "walls": "wall", "openings": "opening", "models": "model",
	"devices": "device", "heads": "alarm", "groups": "group", "circuits": "circuit", "areas": "area", "zones": "zone", "questions": "question",
	"materials": "material", "settings": "settings", "premises": "premises", "station": "station", "account": "account", "panel": "panel", "power": "power", "ruleSet": "rule set",
}

// Place says a JSON pointer into the site in words: "/zones/09/kind" is "zone 09, kind".
func Place(pointer string) string {
	keys := split(pointer)
	word, known := collections[keys[0]]
	if !known {
		return strings.Join(keys, ", ")
	}
	if len(keys) > 1 && strings.HasSuffix(keys[0], "s") && keys[0] != "settings" && keys[0] != "premises" {
		word += " " + keys[1]
		keys = keys[1:]
	}
	if len(keys) > 1 {
		word += ", " + strings.Join(keys[1:], ", ")
	}
	return word
}

func sayEdit(s *State, b EditBody, done []assignment, met []Conflict) string {
	var say string
	switch {
	case s.Seq == 0 && len(s.Log) == 0:
		return "Opened the job"
	case b.Undo != "":
		say = "Took back an edit"
	case b.Why != "":
		say = b.Why
	case len(done) == 0:
		say = "Edited nothing"
	case len(done) == 1 && done[0].after == nil:
		say = "Deleted " + Place(done[0].pointer)
	default:
		say = "Edited " + Place(done[0].pointer)
		if len(done) > 1 {
			say += fmt.Sprintf(" and %d more", len(done)-1)
		}
	}
	if len(met) > 0 {
		say += fmt.Sprintf(" (%d met another edit)", len(met))
	}
	return say
}

func sayRun(s *State, e evidence.Entry) string {
	switch e.Kind {
	case evidence.KindRun:
		var b prove.RunBody
		_ = json.Unmarshal(e.Body, &b) // folded already, so it can be read
		switch b.Act {
		case prove.RunOpened:
			if b.Practice {
				return "Opened a practice run"
			}
			return "Opened a proving run"
		case prove.RunClosed:
			return "Closed the run"
		}
		return "Measured the clocks"
	case evidence.KindOnTest:
		var b prove.OnTestBody
		_ = json.Unmarshal(e.Body, &b)
		return "Station: " + strings.ReplaceAll(string(b.Act), "-", " ")
	case evidence.KindSignal:
		var b prove.SignalBody
		_ = json.Unmarshal(e.Body, &b)
		say := fmt.Sprintf("Signal %s %s, %s %d", b.Event.Code, b.Event.Qualifier, b.Event.NumberIs, b.Event.Number)
		if !b.Acknowledged {
			say += ", not answered"
		}
		return say
	case evidence.KindReadback:
		var b prove.ReadBackBody
		_ = json.Unmarshal(e.Body, &b)
		lines := fmt.Sprintf("%d lines", len(b.Lines))
		if len(b.Lines) == 1 {
			lines = "1 line"
		}
		return fmt.Sprintf("Station read back %s (%s)", lines, b.Source)
	case evidence.KindTick:
		var b prove.TickBody
		_ = json.Unmarshal(e.Body, &b)
		say := fmt.Sprintf("%s: %s", b.Step, b.What)
		if b.Reason != "" {
			say += ", " + b.Reason
		}
		return say
	case evidence.KindPutback:
		var b prove.PutBackBody
		_ = json.Unmarshal(e.Body, &b)
		if b.Act == prove.PutBackMade {
			return "To put back: " + b.What
		}
		return "Put back"
	}
	return string(e.Kind)
}
