// Package panelsim is a panel and a monitoring station for practice and tests. Both speak real DC-09 over real TCP, from
// a process of their own: to what is being proved they are a panel and a station like any other.
//
// The panel does what its zone table says, takes the time that such equipment takes (divided by Speed), and can be told
// to misbehave in the ways that proving has to find.
package panelsim

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"slices"
	"strconv"
	"sync"
	"time"

	"proofbell/panel"
	"proofbell/signal"
	"proofbell/site"
)

// Config is what a simulated panel needs.
type Config struct {
	Site    *site.Site
	Profile *panel.Profile
	Signals string  // address of the receiver that it also reports to; "" none
	Speed   float64 // divides the panel's own delays; 0: 1
	Now     func() time.Time
	Log     *slog.Logger
}

// Panel is a running simulated panel with its station. Safe for concurrent use.
type Panel struct {
	cfg     Config
	station *Station
	ctx     context.Context
	cancel  context.CancelFunc
	work    sync.WaitGroup
	queue   chan report
	sooner  chan struct{} // something is due before what the agenda waits for

	mu         sync.Mutex
	agenda     agenda
	tripped    map[source]bool
	latched    map[site.ZoneID]bool // alarm sent, restore not yet
	tampered   map[site.DeviceID]bool
	armed      map[site.AreaID]bool
	pressed    map[site.HeadID]bool
	mainsOff   bool
	batteryOff bool
	down       map[site.PathID]bool
	faults     []Fault
	key        signal.Key // of what it sends to the receiver that it also reports to; none: in clear
	sequence   int
	sent       []Sent
}

type source struct {
	device   site.DeviceID
	terminal string
}

// report is one event on its way out.
type report struct {
	event Sent
	frame signal.Frame
	paths []site.PathID
}

// Sent is an event that the panel reported, or tried to.
type Sent struct {
	At        time.Time        `json:"at"`
	Zone      site.ZoneID      `json:"zone"`
	Code      string           `json:"code"`
	Qualifier signal.Qualifier `json:"qualifier"`
	Station   string           `json:"station"`  // "acknowledged", or why not
	Receiver  string           `json:"receiver"` // likewise, "" when it reports to none
}

// Fault is a way to misbehave. Device names whose signals it touches; empty: all.
type Fault struct {
	Kind    string        `json:"kind"` // delay, lose-alarm, lose-restore, swap-zone, wrong-code, path-down
	Device  site.DeviceID `json:"device,omitempty"`
	Seconds float64       `json:"seconds,omitempty"` // delay
	Zone    site.ZoneID   `json:"zone,omitempty"`    // swap-zone: reported instead
	Code    string        `json:"code,omitempty"`    // wrong-code: reported instead
	Path    site.PathID   `json:"path,omitempty"`    // path-down
}

// Start runs a panel and its station until Close.
func Start(ctx context.Context, cfg Config) (*Panel, error) {
	if cfg.Speed <= 0 {
		cfg.Speed = 1
	}
	st, err := newStation(ctx, cfg.Site, cfg.Now, cfg.Log)
	if err != nil {
		return nil, err
	}
	p := &Panel{
		cfg: cfg, station: st, queue: make(chan report, 1024), sooner: make(chan struct{}, 1), tripped: map[source]bool{}, latched: map[site.ZoneID]bool{}, tampered: map[site.DeviceID]bool{},
		armed: map[site.AreaID]bool{}, pressed: map[site.HeadID]bool{}, down: map[site.PathID]bool{}, faults: []Fault{}, sent: []Sent{},
	}
	p.ctx, p.cancel = context.WithCancel(context.WithoutCancel(ctx))
	p.work.Go(p.report)
	p.work.Go(p.keepAgenda)
	return p, nil
}

// Close stops the panel and the station and waits for them.
func (p *Panel) Close() error {
	p.cancel()
	p.work.Wait()
	return p.station.close()
}

// Command is one thing that somebody does on site.
type Command struct {
	Do       string        `json:"do"`
	Device   site.DeviceID `json:"device,omitempty"`
	Terminal string        `json:"terminal,omitempty"`
	Head     site.HeadID   `json:"head,omitempty"`
	Area     site.AreaID   `json:"area,omitempty"`
	Fault    *Fault        `json:"fault,omitempty"`
	Key      string        `json:"key,omitempty"` // of "key": in hex or typed; "" sends in clear again
}

// Do carries out a command; the error says what is not there.
func (p *Panel) Do(c Command) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	var key signal.Key
	s := p.cfg.Site
	switch c.Do {
	case "trip", "restore", "tamper", "tamper-clear":
		if _, ok := s.Devices[c.Device]; !ok {
			return fmt.Errorf("the simulated building has no device %q", c.Device)
		}
	case "press-head", "release-head":
		if _, ok := s.Heads[c.Head]; !ok {
			return fmt.Errorf("the simulated building has no alarm %q", c.Head)
		}
	case "key":
		if c.Key != "" {
			var err error
			if key, err = signal.ParseKey(c.Key); err != nil {
				return err
			}
		}
	case "fault":
		if c.Fault == nil {
			return errors.New("which fault?")
		}
		if err := p.possible(*c.Fault); err != nil {
			return err
		}
	}
	switch c.Do {
	case "trip":
		p.trip(c.Device, c.Terminal)
	case "restore":
		p.clear(c.Device, c.Terminal)
	case "tamper":
		if !p.tampered[c.Device] {
			p.tampered[c.Device] = true
			p.after(1, func() { p.deviceEvent(c.Device, "383", signal.New) })
		}
	case "tamper-clear":
		if p.tampered[c.Device] {
			delete(p.tampered, c.Device)
			p.after(1, func() { p.deviceEvent(c.Device, "383", signal.Restore) })
		}
	case "press-head":
		p.press(c.Head)
	case "release-head":
		p.release(c.Head)
	case "arm", "disarm":
		p.arm(c.Area, c.Do == "arm")
	case "mains-off", "mains-on":
		if off := c.Do == "mains-off"; off != p.mainsOff {
			p.mainsOff = off
			p.after(5, func() { p.event("", 0, "", "301", qualifier(off), nil) })
		}
	case "battery-off", "battery-on":
		if off := c.Do == "battery-off"; off != p.batteryOff {
			p.batteryOff = off
			p.after(5, func() { p.event("", 0, "", "302", qualifier(off), nil) })
		}
	case "periodic-test":
		p.after(0.5, func() { p.event("", 0, "", "602", signal.New, nil) })
	case "manual-test":
		p.after(0.5, func() { p.event("", 0, "", "601", signal.New, nil) })
	case "reset":
		for zone := range p.latched {
			if !p.zoneTripped(zone) {
				p.restoreZone(zone)
			}
		}
	case "fault":
		p.fault(*c.Fault)
	case "fault-clear":
		p.faults = []Fault{}
		for path := range p.down {
			p.path(path, false)
		}
	case "key":
		p.key = key
	default:
		return fmt.Errorf("the simulated panel can not %q", c.Do)
	}
	return nil
}

func qualifier(begins bool) signal.Qualifier {
	if begins {
		return signal.New
	}
	return signal.Restore
}

// trip is what a device senses. The terminal is the first one when none is named.
func (p *Panel) trip(device site.DeviceID, terminal string) {
	src := source{device, p.terminal(device, terminal)}
	if p.tripped[src] {
		return
	}
	p.tripped[src] = true
	for _, id := range p.zonesOf(src) {
		p.zoneTrips(id)
	}
}

func (p *Panel) clear(device site.DeviceID, terminal string) {
	src := source{device, p.terminal(device, terminal)}
	delete(p.tripped, src)
	for _, id := range p.zonesOf(src) {
		if p.latched[id] {
			p.follow(id)
		}
	}
}

func (p *Panel) terminal(device site.DeviceID, named string) string {
	if named != "" {
		return named
	}
	ids := site.SortedIDs(p.cfg.Site.Zones)
	for _, id := range ids {
		if z := p.cfg.Site.Zones[id]; z.Device == device {
			return z.Terminal
		}
	}
	return ""
}

func (p *Panel) zonesOf(src source) []site.ZoneID {
	var out []site.ZoneID
	for _, id := range site.SortedIDs(p.cfg.Site.Zones) {
		if z := p.cfg.Site.Zones[id]; z.Device == src.device && z.Terminal == src.terminal && z.Kind != site.Unused && z.Kind != site.Observe {
			out = append(out, id)
		}
	}
	return out
}

func (p *Panel) zoneTripped(id site.ZoneID) bool {
	z := p.cfg.Site.Zones[id]
	return p.tripped[source{z.Device, z.Terminal}]
}

// zoneTrips decides what a tripped zone does, by its kind.
func (p *Panel) zoneTrips(id site.ZoneID) {
	z := p.cfg.Site.Zones[id]
	alarm := func() {
		if p.latched[id] {
			return
		}
		p.latched[id] = true
		q := signal.New
		if z.Kind == site.Keyswitch {
			p.latched[id] = false
			on := !p.armed[z.Area]
			p.armed[z.Area] = on
			if q = signal.Opening; on {
				q = signal.Closing
			}
		}
		p.zoneEvent(id, z, z.Code, q)
		if !p.zoneTripped(id) { // cleared while the alarm was on its way
			p.follow(id)
		}
	}
	switch z.Kind {
	case site.Entry1, site.Entry2:
		if p.armed[z.Area] {
			p.after(max(p.cfg.Site.Settings.EntryDelay.SI(), 1), func() {
				if p.armed[z.Area] { // nobody disarmed
					alarm()
				}
			})
		}
	case site.Perimeter, site.Inside:
		if p.armed[z.Area] {
			p.after(1, alarm)
		}
	case site.SmokeVerified:
		p.after(20, func() {
			if p.zoneTripped(id) {
				alarm()
			}
		})
	default:
		p.after(1, alarm)
	}
}

// follow restores a zone that restores by itself.
func (p *Panel) follow(id site.ZoneID) {
	if p.cfg.Profile.Restore(p.cfg.Site.Zones[id].Kind) == panel.RestoreFollows {
		p.after(1, func() { p.restoreZone(id) })
	}
}

func (p *Panel) restoreZone(id site.ZoneID) {
	if !p.latched[id] || p.zoneTripped(id) {
		return
	}
	z := p.cfg.Site.Zones[id]
	p.latched[id] = false
	if p.cfg.Profile.Restore(z.Kind) == panel.RestoreNone || p.cfg.Site.Models[p.cfg.Site.Devices[z.Device].Model].NoRestore {
		return
	}
	p.zoneEvent(id, z, z.Code, signal.Restore)
}

// press makes a group of heads sound: bridges that hear the group decide after a while.
func (p *Panel) press(head site.HeadID) {
	p.pressed[head] = true
	pattern := p.pattern(head)
	for _, bridge := range p.bridges(head) {
		for terminal, t := range p.cfg.Site.Models[p.cfg.Site.Devices[bridge].Model].Terminals {
			if t.Senses != pattern {
				continue
			}
			p.after(12, func() {
				if p.sounding(bridge, pattern) {
					p.trip(bridge, terminal)
				}
			})
		}
	}
}

func (p *Panel) release(head site.HeadID) {
	delete(p.pressed, head)
	pattern := p.pattern(head)
	for _, bridge := range p.bridges(head) {
		for terminal, t := range p.cfg.Site.Models[p.cfg.Site.Devices[bridge].Model].Terminals {
			if t.Senses == pattern {
				p.after(4, func() {
					if !p.sounding(bridge, pattern) {
						p.clear(bridge, terminal)
					}
				})
			}
		}
	}
}

func (p *Panel) pattern(head site.HeadID) string {
	if p.cfg.Site.Heads[head].Kind == "co" {
		return site.SensesFour
	}
	return site.SensesThree
}

func (p *Panel) bridges(head site.HeadID) []site.DeviceID {
	var out []site.DeviceID
	group := p.cfg.Site.Heads[head].Group
	for _, id := range site.SortedIDs(p.cfg.Site.Devices) {
		if group != "" && p.cfg.Site.Devices[id].Hears == group {
			out = append(out, id)
		}
	}
	return out
}

// sounding reports whether a bridge still hears the pattern.
func (p *Panel) sounding(bridge site.DeviceID, pattern string) bool {
	for head := range p.pressed {
		if p.pattern(head) == pattern && slices.Contains(p.bridges(head), bridge) {
			return true
		}
	}
	return false
}

func (p *Panel) arm(area site.AreaID, on bool) {
	areas := site.SortedIDs(p.cfg.Site.Areas)
	if area != "" {
		areas = []site.AreaID{area}
	}
	for _, a := range areas {
		if p.armed[a] == on {
			continue
		}
		p.armed[a] = on
		q := signal.Opening
		if on {
			q = signal.Closing
		}
		p.after(0.5, func() { p.event("", 1, a, "401", q, nil) })
	}
}

// possible tests a fault before it is provoked.
func (p *Panel) possible(f Fault) error {
	s := p.cfg.Site
	_, device := s.Devices[f.Device]
	_, zone := s.Zones[f.Zone]
	_, path := s.Account.Paths[f.Path]
	switch {
	case f.Device != "" && !device:
		return fmt.Errorf("the simulated building has no device %q", f.Device)
	case !slices.Contains([]string{"delay", "lose-alarm", "lose-restore", "swap-zone", "wrong-code", "path-down"}, f.Kind):
		return fmt.Errorf("the simulated panel knows no fault %q", f.Kind)
	case f.Kind == "delay" && !(f.Seconds > 0 && f.Seconds <= 3600):
		return errors.New("a delay takes seconds from 1 to 3600")
	case f.Kind == "swap-zone" && !zone:
		return fmt.Errorf("the simulated panel has no zone %q", f.Zone)
	case f.Kind == "path-down" && !path:
		return fmt.Errorf("the simulated panel has no path %q", f.Path)
	}
	return nil
}

func (p *Panel) fault(f Fault) {
	p.faults = append(p.faults, f)
	if f.Kind == "path-down" {
		p.path(f.Path, true)
	}
}

// path blocks or frees a path; the other one reports it.
func (p *Panel) path(path site.PathID, down bool) {
	if p.down[path] == down {
		return
	}
	p.down[path] = down
	if !down {
		delete(p.down, path)
	}
	code := "35" + strconv.Itoa(p.cfg.Site.Account.Paths[path].Order)
	p.after(3, func() { p.event("", 0, "", code, qualifier(down), nil) })
}

func (p *Panel) deviceEvent(device site.DeviceID, code string, q signal.Qualifier) {
	for _, id := range site.SortedIDs(p.cfg.Site.Zones) {
		if z := p.cfg.Site.Zones[id]; z.Device == device {
			p.event(id, number(id), z.Area, code, q, z.Paths)
			return
		}
	}
}

// zoneEvent reports a zone, as the provoked faults will have it.
func (p *Panel) zoneEvent(id site.ZoneID, z site.Zone, code string, q signal.Qualifier) {
	delay := 0.0
	for _, f := range p.faults {
		if f.Device != "" && f.Device != z.Device {
			continue
		}
		switch {
		case f.Kind == "lose-alarm" && q == signal.New, f.Kind == "lose-restore" && q == signal.Restore:
			return
		case f.Kind == "swap-zone":
			id = f.Zone
		case f.Kind == "wrong-code" && f.Code != "":
			code = f.Code
		case f.Kind == "wrong-code":
			code = "150"
		case f.Kind == "delay":
			delay = f.Seconds * p.cfg.Speed // of real time
		}
	}
	if delay > 0 {
		p.after(delay, func() { p.event(id, number(id), z.Area, code, q, z.Paths) })
		return
	}
	p.event(id, number(id), z.Area, code, q, z.Paths)
}

func number(id site.ZoneID) int {
	n, err := strconv.Atoi(string(id))
	if err != nil {
		return 0
	}
	return n
}

// event puts an event into the queue. p.mu is held.
func (p *Panel) event(id site.ZoneID, num int, area site.AreaID, code string, q signal.Qualifier, paths []site.PathID) {
	s := p.cfg.Site
	a, _ := strconv.Atoi(string(area)) // areas are numbered; 0 is the panel itself
	payload, err := signal.NewContactID(s.Account.Number, q, code, a, num)
	if err != nil {
		p.cfg.Log.Error("simulated panel", "err", err)
		return
	}
	if paths == nil {
		paths = site.SortedIDs(s.Account.Paths)
	}
	p.sequence = signal.NextSequence(p.sequence)
	f := signal.Frame{ID: signal.IDContactID, Sequence: p.sequence, Prefix: "L0", Account: s.Account.Number, Data: payload.String(), Timestamp: signal.FormatTimestamp(p.cfg.Now())}
	r := report{event: Sent{At: p.cfg.Now().UTC(), Zone: id, Code: code, Qualifier: q}, frame: f}
	for _, path := range slices.SortedFunc(slices.Values(paths), func(x, y site.PathID) int { return s.Account.Paths[x].Order - s.Account.Paths[y].Order }) {
		if !p.down[path] {
			r.paths = append(r.paths, path)
		}
	}
	select {
	case p.queue <- r:
	default:
		p.cfg.Log.Error("simulated panel: too many events at once", "zone", id, "code", code)
	}
}

// report sends what waits, in order: to the station by the first path that works, and a copy to the other receiver.
func (p *Panel) report() {
	for {
		var r report
		select {
		case r = <-p.queue:
		case <-p.ctx.Done():
			return
		}
		r.event.Station = "no path is up"
		if len(r.paths) > 0 {
			if field, err := signal.NewField('J', strconv.Itoa(p.cfg.Site.Account.Paths[r.paths[0]].Order)); err == nil {
				r.frame.Fields = []signal.Field{field}
			}
			p.mu.Lock()
			key := p.key
			p.mu.Unlock()
			r.event.Station = p.send(p.station.addr(), r.frame, signal.Key{}, 2)
			if p.cfg.Signals != "" {
				r.event.Receiver = p.send(p.cfg.Signals, r.frame, key, 1)
			}
		}
		p.mu.Lock()
		if p.sent = append(p.sent, r.event); len(p.sent) > 500 {
			p.sent = slices.Delete(p.sent, 0, len(p.sent)-500)
		}
		p.mu.Unlock()
	}
}

// send tries a destination and says what came of it.
func (p *Panel) send(addr string, f signal.Frame, key signal.Key, attempts int) string {
	sender := signal.Sender{Attempts: attempts, Timeout: time.Second, Key: key, Now: p.cfg.Now, Random: rand.Reader, Dial: func(ctx context.Context) (signal.Conn, error) {
		var d net.Dialer
		return d.DialContext(ctx, "tcp", addr)
	}}
	switch _, err := sender.Send(p.ctx, f); {
	case err == nil:
		return "acknowledged"
	case errors.Is(err, signal.ErrNoReply):
		return "not answered"
	default:
		return err.Error()
	}
}

// State is what one sees at the simulated panel.
type State struct {
	Site     string          `json:"site"`
	Speed    float64         `json:"speed"`
	Tripped  []string        `json:"tripped"` // device/terminal
	Alarms   []site.ZoneID   `json:"alarms"`
	Tampered []site.DeviceID `json:"tampered"`
	Armed    []site.AreaID   `json:"armed"`
	Pressed  []site.HeadID   `json:"pressed"`
	MainsOff bool            `json:"mainsOff"`
	Encrypts bool            `json:"encrypts"` // what goes to the receiver
	Battery  bool            `json:"batteryOff"`
	Down     []site.PathID   `json:"down"`
	Faults   []Fault         `json:"faults"`
	Sent     []Sent          `json:"sent"` // newest last
}

// State returns what one sees at the panel now.
func (p *Panel) State() State {
	p.mu.Lock()
	defer p.mu.Unlock()
	v := State{
		Site: p.cfg.Site.Name, Speed: p.cfg.Speed, Tripped: []string{}, Alarms: []site.ZoneID{}, Tampered: listed(p.tampered), Armed: []site.AreaID{},
		Pressed: listed(p.pressed), MainsOff: p.mainsOff, Encrypts: !p.key.IsZero(), Battery: p.batteryOff, Down: listed(p.down), Faults: append([]Fault{}, p.faults...), Sent: append([]Sent{}, p.sent...),
	}
	for src := range p.tripped {
		v.Tripped = append(v.Tripped, string(src.device)+"/"+src.terminal)
	}
	slices.Sort(v.Tripped)
	for _, id := range site.SortedIDs(p.latched) {
		if p.latched[id] {
			v.Alarms = append(v.Alarms, id)
		}
	}
	for _, a := range site.SortedIDs(p.armed) {
		if p.armed[a] {
			v.Armed = append(v.Armed, a)
		}
	}
	return v
}

// listed is never nil, so that JSON has a list where it promises one.
func listed[K ~string](m map[K]bool) []K { return append([]K{}, site.SortedIDs(m)...) }
