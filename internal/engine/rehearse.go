package engine

import (
	"strings"
	"time"

	"proofbell/evidence"
	"proofbell/internal/keypad"
	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/site"
)

// Rehearsal is a rehearsal as it is opened: what does not change while it goes on, and where it stands.
type Rehearsal struct {
	Panel    string               `json:"panel"`
	Title    string               `json:"title"`
	Keypad   RehearsalKeys        `json:"keypad"`
	Listens  bool                 `json:"listens"`  // a device can be made to speak at this panel
	IdleDrop float64              `json:"idleDrop"` // seconds without a key after which a zone is dropped; 0: never
	Zones    []RehearsedZone      `json:"zones"`    // in the order of the sheet
	LeftOut  []keypad.ZoneReasons `json:"leftOut"`  // not on the sheet, and why
	Same     []site.ZoneID        `json:"same"`     // held as wanted before it begins
	Devices  []Choice             `json:"devices"`  // that can be made to speak: identity and name
	Count    int                  `json:"count"`    // keys of the sheet
	Minutes  float64              `json:"minutes"`  // estimate
	Moment   Moment               `json:"moment"`
}

// RehearsalKeys is the keypad of the panel.
type RehearsalKeys struct {
	Accept      string            `json:"accept"`
	Back        string            `json:"back"`
	Up          string            `json:"up"`
	Down        string            `json:"down"`
	Others      []string          `json:"others"` // neither digits nor any of these
	Letters     map[string]string `json:"letters"`
	LetterPause float64           `json:"letterPause"` // seconds
}

// RehearsedZone is a zone of the sheet.
type RehearsedZone struct {
	Zone       string `json:"zone"`
	Label      string `json:"label"`
	LifeSafety bool   `json:"lifeSafety"`
	Cards      int    `json:"cards"`
}

// Moment is where a rehearsal stands.
type Moment struct {
	Display   keypad.Display `json:"display"`
	Outcome   keypad.Outcome `json:"outcome"` // of the last key
	Guide     keypad.Guide   `json:"guide"`
	Cards     []keypad.Card  `json:"cards,omitempty"` // when Guide.Turn is another than in the moment before
	Listening float64        `json:"listening"`       // seconds left
	Idle      float64        `json:"idle"`            // seconds until the zone in hand is dropped; 0: none is
	Keys      int            `json:"keys"`
	Slips     int            `json:"slips"`
	Right     int            `json:"right"` // zones stored as wanted
	Seconds   float64        `json:"seconds"`
	Ended     bool           `json:"ended"` // programming was left
}

// rehearsing is the one rehearsal that an engine holds.
type rehearsing struct {
	session *keypad.Session
	turn    int // of the cards that were told last
}

type rehearseArg struct {
	Job    evidence.JobID `json:"job"`
	Now    time.Time      `json:"now"`
	Lang   string         `json:"lang"`
	From   string         `json:"from"`   // held: what the book knows of the panel; empty: nothing
	Zones  []site.ZoneID  `json:"zones"`  // none: all
	Safety bool           `json:"safety"` // life-safety zones only
	Acts   []keypad.Act   `json:"acts"`   // of a rehearsal that is gone on with

	Keys     []string `json:"keys"`
	Seconds  float64  `json:"seconds"`
	Identity string   `json:"identity"`
}

// mostActs bounds a rehearsal that is brought along.
const mostActs = 100_000

// rehearse answers the calls of a rehearsal.
func (e *Engine) rehearse(method string, argument []byte) (any, error) {
	arg, err := read[rehearseArg](argument)
	if err != nil {
		return nil, err
	}
	if method == "rehearse.open" {
		h, err := e.book(arg.Job)
		if err != nil {
			return nil, err
		}
		if len(arg.Acts) > mostActs {
			return nil, &Problem{Code: "bad-request", Say: words.Mark("This rehearsal is too long to go on with."), Try: words.Mark("Begin a new one.")}
		}
		r, session, err := h.current().In(words.In(arg.Lang)).Rehearse(arg)
		if err != nil {
			return nil, err
		}
		e.rehearsal = &rehearsing{session, -1}
		r.Moment = e.rehearsal.moment("")
		return r, nil
	}
	r := e.rehearsal
	if r == nil {
		return nil, &Problem{Code: "not-found", Say: words.Mark("No rehearsal is open."), Try: words.Mark("Begin it again.")}
	}
	var out keypad.Outcome
	switch method {
	case "rehearse.press":
		for i, key := range arg.Keys {
			act := keypad.Act{Key: key}
			if i == 0 {
				act.After = arg.Seconds
			}
			if out, err = r.session.Do(act); err != nil {
				return nil, &Problem{Code: "bad-request", Say: words.Mark("This keypad has no such key."), Try: words.Mark("Reload the page."), Err: err}
			}
		}
	case "rehearse.pass":
		_, err = r.session.Do(keypad.Act{After: arg.Seconds})
	case "rehearse.hear":
		out, err = r.session.Do(keypad.Act{After: arg.Seconds, Hear: arg.Identity})
	case "rehearse.again":
		_, err = r.session.Do(keypad.Act{After: arg.Seconds, Again: true})
	case "rehearse.end":
		return r.session.Result(), nil
	default:
		return nil, &Problem{Code: "not-found", Say: words.Mark("The engine has no such call."), Try: words.Mark("Reload the page so that it matches the engine.")}
	}
	return r.moment(out), err
}

func (r *rehearsing) moment(out keypad.Outcome) Moment {
	s := r.session
	m := Moment{Display: s.Display(), Outcome: out, Guide: s.Guide(), Listening: s.Listening(), Idle: s.Idle(), Ended: s.Ended()}
	m.Keys, m.Slips, m.Right, m.Seconds = s.Counts()
	if m.Guide.Turn != r.turn {
		r.turn, m.Cards = m.Guide.Turn, s.Cards()
	}
	return m
}

// Rehearse lays out a rehearsal and runs the acts that were brought along.
func (d *Desk) Rehearse(arg rehearseArg) (Rehearsal, *keypad.Session, error) {
	p := d.profile
	if p == nil {
		return Rehearsal{}, nil, d.noProfile()
	}
	findings, err := d.Findings(arg.Now)
	if err != nil {
		return Rehearsal{}, nil, err
	}
	x := keypad.Exercise{Site: d.State.Site, Panel: p, Zones: arg.Zones, Options: keypad.Options{Lang: d.lang, Stops: StopsOf(findings), ReadBack: true}}
	if arg.From == "held" {
		x.Held = d.Held()
	}
	if arg.Safety {
		x.Zones = nil
		for id, z := range d.State.Site.Zones {
			if z.Kind.LifeSafety() {
				x.Zones = append(x.Zones, id)
			}
		}
	}
	s, err := keypad.Replay(x, arg.Acts)
	if err != nil {
		return Rehearsal{}, nil, &Problem{Code: "bad-request", Say: d.lang.Say("This rehearsal belongs to another panel."), Try: d.lang.Say("Begin a new one."), Err: err}
	}
	sheet := s.Sheet()
	r := Rehearsal{
		Panel: p.Name, Title: p.Title, IdleDrop: p.Timing.IdleDrop.SI(), Zones: []RehearsedZone{}, LeftOut: []keypad.ZoneReasons{}, Same: append([]site.ZoneID{}, sheet.Same...),
		Devices: []Choice{}, Count: sheet.Count, Minutes: sheet.Minutes,
		Keypad: RehearsalKeys{Accept: p.Keypad.Accept, Back: p.Keypad.Back, Up: p.Keypad.Up, Down: p.Keypad.Down, Others: []string{}, Letters: map[string]string{}, LetterPause: p.Keypad.LetterPause.SI()},
	}
	for _, key := range p.Keypad.Keys {
		switch {
		case p.Keypad.Letters[key] != "":
			r.Keypad.Letters[key] = p.Keypad.Letters[key]
		case key == p.Keypad.Accept, key == p.Keypad.Back, key == p.Keypad.Up, key == p.Keypad.Down, len(key) == 1 && strings.Contains("0123456789", key):
		default:
			r.Keypad.Others = append(r.Keypad.Others, key)
		}
	}
	for _, z := range sheet.Zones {
		if len(z.Stops) > 0 {
			r.LeftOut = append(r.LeftOut, keypad.ZoneReasons{Zone: z.Zone, Label: z.Label, Why: d.hiddenStops(z.Stops)})
		} else {
			r.Zones = append(r.Zones, RehearsedZone{Zone: string(z.Zone), Label: z.Label, LifeSafety: z.LifeSafety, Cards: len(z.Cards)})
		}
	}
	for _, n := range p.Dialogue.Nodes {
		r.Listens = r.Listens || n.Listen != nil
	}
	if r.Listens {
		for _, id := range site.SortedIDs(d.State.Site.Devices) {
			if tag := d.State.Site.Devices[id].Identity; tag != "" {
				r.Devices = append(r.Devices, Choice{Value: tag, Say: d.deviceSay(id)})
			}
		}
	}
	return r, s, nil
}

// deviceSay names a device for somebody who stands in the building: its zone and label, else its model and room.
func (d *Desk) deviceSay(id site.DeviceID) string {
	s := d.State.Site
	for _, zone := range site.SortedIDs(s.Zones) {
		if z := s.Zones[zone]; z.Device == id {
			return words.Join(d.lang.Say("zone %s", zone), z.Label)
		}
	}
	return words.Join(s.Models[s.Devices[id].Model].Name, s.Rooms[s.Devices[id].Room].Name)
}

func (d *Desk) noProfile() error {
	return &Problem{
		Code: "not-found", Say: d.lang.Say("There is no panel profile %q.", d.State.Site.Panel.Profile),
		Try: d.lang.Say("Choose one of: %s.", strings.Join(panel.Names(), ", ")),
	}
}
