package history

import (
	"cmp"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"proofbell/signal"
	"proofbell/site"
)

// class is what an event means to the causes.
type class uint8

const (
	otherEvent class = iota
	fireAlarm
	airAlarm // carbon monoxide, gas
	burglaryAlarm
	panicAlarm
	buildingAlarm // water, temperature, technical
	alarmEnd
	lost
	lostEnd
	batteryLow
	batteryEnd
	tamper
	tamperEnd
	trouble
	troubleEnd
	mainsLost
	mainsBack
	powerLow
	powerEnd
	pathFault
	pathBack
	restart
	jamming
	opened
	closed
	exitError
	maintenance
	periodicTest
	programming
	testBegin
	testEnd
	walked
	classes // how many there are
)

// byClass are indexes into data.all, in order of time.
type byClass [classes][]int32

func classOf(w *What) class {
	switch w.Code {
	case "374", "457", "EE", "EA":
		return exitError
	case "305", "308", "339", "RR", "YW":
		return restart
	case "344", "XQ":
		if w.Qualifier != signal.Restore {
			return jamming
		}
		return otherEvent
	}
	if w.Code == "" {
		low := strings.ToLower(w.Words)
		for _, m := range []struct {
			part string
			is   class
		}{
			{"exit error", exitError},
			{"restart", restart},
			{"power up", restart},
			{"neustart", restart},
			{"jamming", jamming},
			{"interference", jamming},
			{"funkstörung", jamming},
		} {
			if strings.Contains(low, m.part) && w.Qualifier != signal.Restore {
				return m.is
			}
		}
	}
	switch w.Kind {
	case signal.KindAlarm:
		switch w.Family {
		case signal.Fire:
			return fireAlarm
		case signal.CO, signal.Gas:
			return airAlarm
		case signal.Burglary:
			return burglaryAlarm
		case signal.Panic, signal.Medical:
			return panicAlarm
		}
		return buildingAlarm
	case signal.KindRestore:
		return alarmEnd
	case signal.KindSupervisionLost:
		return lost
	case signal.KindSupervisionRestore:
		return lostEnd
	case signal.KindBatteryLow:
		return batteryLow
	case signal.KindBatteryRestore:
		return batteryEnd
	case signal.KindTamper:
		return tamper
	case signal.KindTamperRestore:
		return tamperEnd
	case signal.KindTrouble:
		return trouble
	case signal.KindTroubleRestore:
		return troubleEnd
	case signal.KindMainsLost:
		return mainsLost
	case signal.KindMainsRestore:
		return mainsBack
	case signal.KindPower:
		return powerLow
	case signal.KindPowerRestore:
		return powerEnd
	case signal.KindCommunication:
		return pathFault
	case signal.KindCommunicationRestore:
		return pathBack
	case signal.KindOpen:
		return opened
	case signal.KindClose:
		return closed
	case signal.KindMaintenance:
		return maintenance
	case signal.KindTest:
		return periodicTest
	case signal.KindWalkTested:
		return walked
	case signal.KindProgramming:
		return programming
	case signal.KindTestBegin:
		return testBegin
	case signal.KindTestEnd:
		return testEnd
	}
	return otherEvent
}

func (c class) alarm() bool { return c >= fireAlarm && c <= buildingAlarm }

// occurrence is an event as the causes see it.
type occurrence struct {
	at    int64 // Unix seconds
	zone  int32 // index into data.zones; -1: none
	index int32 // into Reading.Events
	class class
}

const maxZones = 20_000 // Contact ID has 999 in one account

// zoneData is what happened at one zone.
type zoneData struct {
	key    string // "14"
	name   string // as shown: the site's id, or as written
	label  string
	site   *site.Zone
	device *site.Device
	model  *site.Model
	of     byClass
}

func (z *zoneData) bridge() bool { return z.model != nil && z.model.Class == "bridge" }

// data is a history laid out for the causes. Events on test, copies, doubtful times and other accounts are not in it.
type data struct {
	r          *Reading
	site       *site.Site
	zone       *time.Location
	from, to   int64
	all        []occurrence
	of         byClass
	zones      []zoneData
	byKey      map[string]int32
	account    string
	accounts   map[string]int
	claimed    []bool // by a cause that was accepted
	onTest     int
	armed      []span
	offsets    map[int64]int64
	alarmZones int // zones with an alarm
}

// span is a time from one event to another; open: it had not ended.
type span struct {
	from, to int64
	first    int32 // index into all of what began it
	open     bool
}

func (d *data) seconds() float64 { return float64(max(1, d.to-d.from)) }

// lay prepares a history.
func lay(r *Reading, s *site.Site, from, to time.Time) *data {
	d := &data{byKey: map[string]int32{}, r: r, site: s, zone: r.zone, accounts: map[string]int{}, offsets: map[int64]int64{}}
	for i := range r.Events {
		if a := r.Events[i].Account; a != "" {
			d.accounts[a]++
		}
	}
	for a, n := range d.accounts {
		if best := d.accounts[d.account]; n > best || n == best && a < d.account {
			d.account = a
		}
	}
	if s != nil && s.Account.Number != "" && len(d.accounts) > 0 {
		best := 0
		for a, n := range d.accounts {
			if sameAccount(a, s.Account.Number) && (n > best || n == best && a < d.account) {
				d.account, best = a, n
			}
		}
	}
	known := map[*What]class{}
	ids := map[string]int32{}
	d.all = make([]occurrence, 0, len(r.Events))
	var testUntil int64
	for i := range r.Events {
		e := &r.Events[i]
		if e.Doubt || e.SameAs != 0 || !from.IsZero() && e.At.Before(from) || !to.IsZero() && !e.At.Before(to) || e.Account != "" && e.Account != d.account {
			continue
		}
		c, ok := known[e.What]
		if !ok {
			c = classOf(e.What)
			known[e.What] = c
		}
		at := e.At.Unix()
		if len(d.all) == 0 {
			d.from = at
		}
		d.to = at
		switch {
		case c == testBegin:
			testUntil = at + 8*3600 // a window that nobody closed
		case c == testEnd:
			testUntil = 0
		case at < testUntil && c != opened && c != closed && c != mainsLost && c != mainsBack:
			d.onTest++
			continue
		}
		o := occurrence{at: at, zone: -1, index: int32(i), class: c}
		if e.Zone != "" && e.NumberIs == signal.Zone && e.Number != 0 {
			o.zone, ok = ids[e.Zone]
			if !ok {
				o.zone = d.addZone(e.Zone)
				ids[e.Zone] = o.zone
			}
		}
		n := int32(len(d.all))
		d.all = append(d.all, o)
		d.of[c] = append(d.of[c], n)
		if o.zone >= 0 {
			z := &d.zones[o.zone]
			z.of[c] = append(z.of[c], n)
		}
	}
	d.claimed = make([]bool, len(d.all))
	d.armed = d.spans(closed, opened)
	for i := range d.zones {
		for c := fireAlarm; c <= buildingAlarm; c++ {
			if len(d.zones[i].of[c]) > 0 {
				d.alarmZones++
				break
			}
		}
	}
	return d
}

func sameAccount(a, b string) bool {
	return strings.EqualFold(strings.TrimLeft(a, "0"), strings.TrimLeft(b, "0"))
}

func (d *data) addZone(written string) int32 {
	key := strings.TrimLeft(written, "0")
	if i, ok := d.byKey[key]; ok {
		return i
	}
	if len(d.zones) == maxZones {
		return -1
	}
	z := zoneData{key: key, name: key}
	if n, err := strconv.Atoi(key); err == nil && n < 10 {
		z.name = "0" + key
	}
	if d.site != nil {
		for _, id := range slices.Sorted(maps.Keys(d.site.Zones)) {
			if strings.TrimLeft(string(id), "0") != key {
				continue
			}
			sz := d.site.Zones[id]
			z.name, z.label, z.site = string(id), sz.Label, &sz
			if dev, ok := d.site.Devices[sz.Device]; ok {
				z.device = &dev
				if m, ok := d.site.Models[dev.Model]; ok {
					z.model = &m
				}
			}
		}
	}
	d.zones = append(d.zones, z)
	d.byKey[key] = int32(len(d.zones) - 1)
	return d.byKey[key]
}

// spans pairs each begin with the next end.
func (d *data) spans(begin, end class) []span {
	var out []span
	b, e := d.of[begin], d.of[end]
	j := 0
	for i := 0; i < len(b); i++ {
		from := d.all[b[i]].at
		if len(out) > 0 && !out[len(out)-1].open && from < out[len(out)-1].to {
			continue
		}
		for j < len(e) && e[j] < b[i] {
			j++
		}
		if j == len(e) {
			out = append(out, span{from, d.to, b[i], true})
			break
		}
		out = append(out, span{from, d.all[e[j]].at, b[i], false})
	}
	return out
}

// free returns those that no cause has claimed.
func (d *data) free(list []int32) []int32 {
	out := make([]int32, 0, len(list))
	for _, i := range list {
		if !d.claimed[i] {
			out = append(out, i)
		}
	}
	return out
}

// begins returns the events of the classes, in order of time, unclaimed.
func (d *data) joined(of *byClass, which ...class) []int32 {
	var out []int32
	for _, c := range which {
		out = append(out, d.free(of[c])...)
	}
	slices.Sort(out)
	return out
}

// episodes keeps the first of each run of events with less than gap seconds between them: what follows at once is not
// another case.
func (d *data) episodes(list []int32, gap int64) []int32 {
	var out []int32
	last := int64(-1 << 60)
	for _, i := range list {
		if at := d.all[i].at; at-last >= gap {
			out = append(out, i)
			last = at
		} else {
			last = at
		}
	}
	return out
}

// local returns seconds of the site's clock as if it were UTC.
func (d *data) local(at int64) int64 {
	day := at / 86400
	o, ok := d.offsets[day]
	if !ok {
		_, a := time.Unix(day*86400, 0).In(d.zone).Zone()
		_, b := time.Unix(day*86400+86400, 0).In(d.zone).Zone()
		o = int64(a)
		if a != b {
			o = 1 << 40
		}
		d.offsets[day] = o
	}
	if o == 1<<40 {
		_, a := time.Unix(at, 0).In(d.zone).Zone()
		return at + int64(a)
	}
	return at + o
}

// angles are the times of day, 0 to 1.
func (d *data) angles(list []int32) []float64 {
	out := make([]float64, len(list))
	for k, i := range list {
		out[k] = float64(mod(d.local(d.all[i].at), 86400)) / 86400
	}
	return out
}

func mod(a, m int64) int64 { return ((a % m) + m) % m }

// weekday is 0 for Sunday. Day 0, 1970-01-01, was a Thursday.
func (d *data) weekday(i int32) int { return int(mod(floorDay(d.local(d.all[i].at))+4, 7)) }

func floorDay(seconds int64) int64 { return (seconds - mod(seconds, 86400)) / 86400 }

// distinct counts the zones among events.
func (d *data) distinct(list []int32) int {
	seen := map[int32]bool{}
	for _, i := range list {
		if z := d.all[i].zone; z >= 0 {
			seen[z] = true
		}
	}
	return len(seen)
}

// groups are runs of events that lie within a window from their first, with events of least different zones.
func (d *data) groups(list []int32, window int64, least int) [][]int32 {
	var out [][]int32
	count := map[int32]int{} // events of list[i:j] by zone
	j := 0
	for i := 0; i < len(list); i++ {
		for ; j < len(list) && d.all[list[j]].at-d.all[list[i]].at <= window; j++ {
			if z := d.all[list[j]].zone; z >= 0 {
				count[z]++
			}
		}
		if len(count) >= least {
			out = append(out, list[i:j])
			clear(count)
			i = j - 1
			continue
		}
		if z := d.all[list[i]].zone; z >= 0 {
			if count[z]--; count[z] == 0 {
				delete(count, z)
			}
		}
	}
	return out
}

// within returns an event of the class in a time, or -1.
func (d *data) within(c class, from, to int64) int32 {
	list := d.of[c]
	i := d.since(list, from)
	if i < len(list) && d.all[list[i]].at <= to {
		return list[i]
	}
	return -1
}

// since is the place of the first event of the list at or after a moment.
func (d *data) since(list []int32, from int64) int {
	i, _ := slices.BinarySearchFunc(list, from, func(k int32, at int64) int { return cmp.Compare(d.all[k].at, at) })
	return i
}

// zoneCount is how many zones could have reported: the site's, or those that did.
func (d *data) zoneCount() int {
	n := len(d.zones)
	if d.site != nil {
		n = max(n, len(d.site.Zones))
	}
	return n
}
