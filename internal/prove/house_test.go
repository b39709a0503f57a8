package prove

import (
	"fmt"
	"testing"
	"time"

	"proofbell/panel"
	"proofbell/quantity"
	"proofbell/signal"
	"proofbell/site"
)

// t0 is when the runs of the tests are opened.
var t0 = time.Date(2026, 9, 15, 14, 0, 0, 0, time.UTC)

func at(s float64) time.Time { return t0.Add(time.Duration(s * float64(time.Second))) }

func metres(v ...float64) site.Coordinates {
	var c site.Coordinates
	for _, x := range v {
		c = append(c, quantity.MustParse[quantity.LengthDimension](fmt.Sprintf("%g", x)))
	}
	return c
}

func box(x0, y0, x1, y1 float64) site.Outline {
	return site.Outline{metres(x0, y0), metres(x1, y0), metres(x1, y1), metres(x0, y1)}
}

// house is a small building on two floors: hall and lounge joined by a door at 4,2, a bedroom above the hall reached by a
// stair at 1,3. Group M has one alarm in each room; the bridge hears it from the bedroom.
func house() *site.Site {
	both := []site.PathID{"main", "backup"}
	return &site.Site{
		Premises: site.Premises{Address: "1 Mill Lane", Locality: "Sallow Falls", EmergencyNumber: "911"},
		Station:  site.Station{Name: "Cawder Reach Monitoring", OnTestPhone: "555-0145"},
		Account:  site.Account{Number: "4816", Format: "contact-id", Paths: map[site.PathID]site.Path{"main": {Order: 1, Name: "internet"}, "backup": {Order: 2, Name: "mobile"}}},
		Panel:    site.Panel{Room: "hall", At: metres(0, 0)},
		Storeys: map[site.StoreyID]site.Storey{
			"ground": {Name: "Ground floor", Order: 1},
			"upper":  {Name: "Upper floor", Order: 2, Level: quantity.MustParse[quantity.LengthDimension]("3 m")},
		},
		Rooms: map[site.RoomID]site.Room{
			"hall":   {Name: "Hall", Storey: "ground", Outline: box(0, 0, 4, 4)},
			"lounge": {Name: "Lounge", Storey: "ground", Outline: box(4, 0, 10, 4)},
			"bed":    {Name: "Bedroom", Storey: "upper", Outline: box(0, 0, 4, 4)},
			"loft":   {Name: "Loft"},
		},
		Openings: map[site.OpeningID]site.Opening{
			"door":  {Kind: "door", Storey: "ground", At: metres(4, 2), Rooms: []site.RoomID{"hall", "lounge"}},
			"stair": {Kind: "stair", Storey: "upper", At: metres(1, 3), Rooms: []site.RoomID{"hall", "bed"}},
		},
		Models: map[site.ModelID]site.Model{
			"smoke":   {Class: "smoke", Link: "radio", TestButton: true, Terminals: map[string]site.Terminal{"A": {Senses: "smoke"}}},
			"motion":  {Class: "motion", Link: "radio", Terminals: map[string]site.Terminal{"A": {Senses: "motion"}}},
			"contact": {Class: "contact", Link: "radio", Terminals: map[string]site.Terminal{"A": {Senses: "opening"}}},
			"button":  {Class: "panic-button", Link: "radio", NoRestore: true, Terminals: map[string]site.Terminal{"A": {Senses: "panic-button"}}},
			"key":     {Class: "keyswitch", Link: "wired", Terminals: map[string]site.Terminal{"A": {Senses: "key"}}},
			"bridge": {Class: "bridge", Link: "radio", Terminals: map[string]site.Terminal{
				"A": {Senses: "three-pulse"}, "B": {Senses: "four-pulse"},
			}},
		},
		Devices: map[site.DeviceID]site.Device{
			"smoke13": {Model: "smoke", Room: "lounge", At: metres(9, 2)},
			"smoke14": {Model: "smoke", Room: "bed", At: metres(2, 2)},
			"motion5": {Model: "motion", Room: "hall", At: metres(3, 3)},
			"door1":   {Model: "contact", Room: "hall", At: metres(2, 0)},
			"panic7":  {Model: "button", Room: "hall", At: metres(1, 1)},
			"key8":    {Model: "key", Room: "hall", At: metres(0.5, 1)},
			"bridge9": {Model: "bridge", Room: "bed", At: metres(1, 1), Hears: "M", Beside: "M3"},
		},
		Heads: map[site.HeadID]site.Head{
			"M1": {Kind: "smoke", Group: "M", Room: "hall", At: metres(2, 2)},
			"M2": {Kind: "smoke", Group: "M", Room: "lounge", At: metres(7, 2)},
			"M3": {Kind: "smoke", Group: "M", Room: "bed", At: metres(1, 1.5)},
		},
		Groups: map[site.GroupID]site.Group{"M": {Name: "Mains alarms"}},
		Zones: map[site.ZoneID]site.Zone{
			"01": {Label: "Front door", Kind: site.Entry1, Area: "1", Device: "door1", Terminal: "A", Code: "134", Paths: both},
			"05": {Label: "Hall motion", Kind: site.Inside, Area: "1", Device: "motion5", Terminal: "A", Code: "132", Paths: both},
			"07": {Label: "Desk panic", Kind: site.PanicQuiet, Area: "1", Device: "panic7", Terminal: "A", Code: "122", Paths: both},
			"08": {Label: "Key switch", Kind: site.Keyswitch, Area: "1", Device: "key8", Terminal: "A", Code: "409", Paths: both},
			"09": {Label: "Mains alarms smoke", Kind: site.Smoke, Area: "1", Device: "bridge9", Terminal: "A", Code: "111", Paths: both, LossWindow: "200 s"},
			"13": {Label: "Lounge smoke", Kind: site.Smoke, Area: "1", Device: "smoke13", Terminal: "A", Code: "111", Paths: both, LossWindow: "200 s"},
			"14": {Label: "Bedroom smoke", Kind: site.Smoke, Area: "1", Device: "smoke14", Terminal: "A", Code: "111", Paths: both, LossWindow: "200 s"},
		},
		Settings: site.Settings{EntryDelay: quantity.MustParse[quantity.DurationDimension]("30 s")},
	}
}

func ladder(t testing.TB) *panel.Profile {
	t.Helper()
	p, err := panel.Builtin("ladder")
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// cid is a Contact ID event as the codec reads it.
func cid(account, data string) signal.Event {
	c, err := signal.ParseContactID("#" + account + "|" + data)
	if err != nil {
		panic(err)
	}
	return c.Event()
}

func sig(id string, s float64, data string) Signal {
	return Signal{ID: SignalID(id), Event: cid("4816", data), Received: at(s), Acknowledged: true, Path: "main", Receiver: "r1"}
}

func tick(id string, step StepID, what Did, s float64) Tick {
	return Tick{ID: TickID(id), Step: step, What: what, At: at(s), By: "t"}
}

func trip13(s float64) Tick {
	t := tick(fmt.Sprintf("trip-%g", s), "13.alarm", Tripped, s)
	t.Method = "aerosol"
	return t
}

func line(id string, zone site.ZoneID, code string, q signal.Qualifier, s float64) ReadBack {
	return ReadBack{ID: ReadBackID(id), Zone: zone, Code: code, Qualifier: q, At: at(s), Source: FromPhone, Entered: at(s + 60), Operator: "B. Ferrant"}
}

func open() Window {
	return Window{Stage: WindowOpen, Account: "4816", Families: []string{"fire", "co", "burglary", "panic", "trouble"}, Opened: at(-600), Until: at(4 * 3600), FirstSeen: at(-500)}
}

func observed(parts ...any) Observations {
	o := Observations{Account: "4816", Opened: at(-1200), Window: open()}
	for _, p := range parts {
		switch v := p.(type) {
		case Tick:
			o.Ticks = append(o.Ticks, v)
		case Signal:
			o.Signals = append(o.Signals, v)
		case ReadBack:
			o.ReadBacks = append(o.ReadBacks, v)
		case PutBack:
			o.PutBacks = append(o.PutBacks, v)
		}
	}
	return o
}

func result(t testing.TB, o Outcome, id StepID) StepResult {
	t.Helper()
	for _, r := range o.Steps {
		if r.Step == id {
			return r
		}
	}
	t.Fatalf("no step %s", id)
	return StepResult{}
}

func stops(r StepResult) string {
	return fmt.Sprintf("%s %s %s %s", r.Strip.Detector.State, r.Strip.Panel.State, r.Strip.Line.State, r.Strip.Station.State)
}
