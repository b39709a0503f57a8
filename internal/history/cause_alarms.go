package history

import (
	"cmp"
	"slices"

	"proofbell/internal/words"
)

// False alarms, and zones that do not behave.

var tamperStays = cause{
	id: "tamper-stays", title: words.Mark("A tamper that will not clear"),
	looks:     words.Mark("Tamper reported again and again by one zone with no restore in between."),
	statistic: words.Mark("A rule, no chance: a cover is open or shut."),
	threshold: words.Mark("Three reports over a day or more with no restore among or after them: one lost restore does not look like that."),
	disproof:  words.Mark("Press the cover shut and read the raw state at the panel: a state that follows the cover disproves a wiring or programming fault."),
	not:       words.Mark("Do not bypass tamper for good; it hides the next opening."),
	find: func(d *data) []found {
		var out []found
		for i := range d.zones {
			z := &d.zones[i]
			list := d.free(z.of[tamper])
			if len(list) < 3 {
				continue
			}
			ends := z.of[tamperEnd]
			var run []int32
			for _, n := range list {
				if len(run) > 0 {
					if j, _ := slices.BinarySearch(ends, run[len(run)-1]); j < len(ends) && ends[j] < n {
						run = run[:0]
					}
				}
				run = append(run, n)
			}
			last := run[len(run)-1]
			j, _ := slices.BinarySearch(ends, last)
			if len(run) < 3 || j < len(ends) && d.all[ends[j]].at < d.all[last].at+day || d.all[last].at-d.all[run[0]].at < day {
				continue
			}
			out = append(out, byRule(int32(i), slices.Clone(run), said{words.Mark("%d reports from %s to %s, no restore."), []any{len(run), moment(d.all[run[0]].at), moment(d.all[last].at)}}))
		}
		return out
	},
}

var twinZones = cause{
	id: "twin-zones", title: words.Mark("Two zones answer to one device: one identity keyed twice, or wires that touch"),
	looks:     words.Mark("Burglary, building and tamper events of two zones within two seconds of each other, again and again."),
	statistic: words.Mark("Binomial tail P(X >= k), p = part of the time that lies within two seconds of the other zone."),
	threshold: words.Mark("Four times, and in two of three cases."),
	disproof:  words.Mark("Trip each of the two alone and watch the panel: one zone alone disproves it."),
	not:       words.Mark("Do not exchange both devices."),
	find: func(d *data) []found {
		list := d.joined(&d.of, burglaryAlarm, buildingAlarm, tamper)
		type pair struct{ a, b int32 }
		pairs := map[pair][]int32{}
		for k, n := range list {
			for m := k + 1; m < len(list) && m < k+8 && d.all[list[m]].at-d.all[n].at <= 2; m++ {
				a, b := d.all[n].zone, d.all[list[m]].zone
				if a >= 0 && b >= 0 && a != b {
					key := pair{min(a, b), max(a, b)}
					pairs[key] = append(pairs[key], n, list[m])
				}
			}
		}
		var out []found
		for key, events := range pairs {
			k := len(events) / 2
			a := len(d.joined(&d.zones[key.a].of, burglaryAlarm, buildingAlarm, tamper))
			b := len(d.joined(&d.zones[key.b].of, burglaryAlarm, buildingAlarm, tamper))
			if k < 4 || k*3 < a*2 || k*3 < b*2 {
				continue
			}
			out = append(out, found{zone: key.a, p: binomialTail(a, min(k, a), min(1, float64(b)*4/d.seconds())), events: events, say: []said{
				{words.Mark("%d times together with zone %s within two seconds; alone: %d and %d times."), []any{k, d.zones[key.b].name, max(0, a-k), max(0, b-k)}},
			}})
		}
		slices.SortFunc(out, func(a, b found) int { return cmp.Or(int(a.zone-b.zone), int(a.events[0]-b.events[0])) })
		return out
	},
}

var swinging = cause{
	id: "swinging", title: words.Mark("A swinging zone: loose magnet, warped door, wind, water in a joint"),
	looks:     words.Mark("Bursts of four or more reports of one zone within an hour."),
	statistic: words.Mark("n x P(X >= k-1), X Poisson with the zone's mean number in an hour: a union bound over the hours that begin at a report."),
	threshold: words.Mark("Two bursts on different days: one can be an intruder or a visit."),
	disproof:  words.Mark("Fix the contact with a magnet held by tape for a week: further bursts disprove the door."),
	not:       words.Mark("Do not raise the trip limit, and do not count it out with a limit of one: an intruder comes after the swinger too."),
	find: func(d *data) []found {
		var out []found
		for i := range d.zones {
			list := d.joined(&d.zones[i].of, burglaryAlarm, buildingAlarm, trouble)
			if len(list) < 8 {
				continue
			}
			var events []int32
			days := map[int64]bool{}
			most := 0
			for a := 0; a < len(list); {
				b := a
				for b < len(list) && d.all[list[b]].at-d.all[list[a]].at <= 3600 {
					b++
				}
				if b-a >= 4 {
					events = append(events, list[a:b]...)
					days[floorDay(d.local(d.all[list[a]].at))] = true
					most = max(most, b-a)
				}
				a = b
			}
			if len(days) < 2 {
				continue
			}
			n := float64(len(list))
			out = append(out, found{zone: int32(i), p: min(1, n*poissonTail(most-1, n*3600/d.seconds())), events: events, say: []said{
				{words.Mark("Bursts on %d days, up to %d reports in one hour, %d in all."), []any{len(days), most, len(events)}},
			}})
		}
		return out
	},
}

// armedShare is the part of armed time that lies within seconds of one of n events.
func (d *data) armedShare(n int, seconds int64) float64 {
	var armed int64
	for _, s := range d.armed {
		armed += s.to - s.from
	}
	if armed == 0 {
		return 1
	}
	return min(1, float64(n)*float64(seconds)/float64(armed))
}

var needsArming = words.Mark("Alarms after arming and before disarming: the history has no openings and closings; it would need them.")

func lacksArming(d *data) string {
	if len(d.armed) == 0 && len(d.of[burglaryAlarm]) > 0 {
		return needsArming
	}
	return ""
}

var exitErrors = cause{
	id: "exit-errors", title: words.Mark("Exit errors: the exit time is short, or an inside door is left open"),
	looks:     words.Mark("Burglary alarms within five minutes after arming, and exit errors by their own code (457, 374)."),
	statistic: words.Mark("Binomial tail P(X >= k), p = part of the armed time that lies within five minutes after arming."),
	threshold: words.Mark("Three alarms. Five minutes hold the longest exit delay of 255 s (ANSI/SIA CP-01)."),
	disproof:  words.Mark("Watch the owner leave once, with a clock: out within the exit time and all doors shut disproves it."),
	not:       words.Mark("Do not make the entry door instant or shorten the delay to make people hurry."),
	needs:     lacksArming,
	find: func(d *data) []found {
		alarms := d.episodes(d.joined(&d.of, burglaryAlarm), 600)
		after, minutes := []int32{}, 0.0
		for _, a := range alarms {
			at := d.all[a].at
			if c := d.within(closed, at-300, at); c >= 0 && d.within(opened, d.all[c].at, at-1) < 0 {
				after = append(after, a)
				minutes += float64(at-d.all[c].at) / 60
			}
		}
		own := d.free(d.of[exitError])
		if len(after)+len(own) < 3 {
			return nil
		}
		one := found{zone: -1, p: 1}
		if len(after) > 0 && len(d.armed) > 0 {
			one.p = binomialTail(len(alarms), len(after), d.armedShare(len(d.of[closed]), 300))
			one.say = append(one.say, said{words.Mark("%d of %d burglary alarms within five minutes after arming, on average after %s minutes."), []any{len(after), len(alarms), tenths(minutes / float64(len(after)))}})
		}
		if len(own) >= 3 {
			one.p, one.rule = min(one.p, byRuleChance), true
			one.say = append(one.say, said{words.Mark("%d exit errors reported as such."), []any{len(own)}})
		}
		one.events = append(after, own...)
		if z := d.mostly(one.events); z >= 0 {
			one.say = append(one.say, said{words.Mark("Most of them at zone %s."), []any{d.zones[z].name}})
		}
		return []found{one}
	},
}

// mostly is the zone of more than half of the events, or -1.
func (d *data) mostly(list []int32) int32 {
	n := map[int32]int{}
	for _, i := range list {
		if z := d.all[i].zone; z >= 0 {
			n[z]++
			if n[z]*2 > len(list) {
				return z
			}
		}
	}
	return -1
}

var lateEntry = cause{
	id: "late-entry", title: words.Mark("Alarms on coming home: the entry time is short, or people take the wrong door"),
	looks:     words.Mark("Burglary alarms that are followed by disarming within three minutes."),
	statistic: words.Mark("Binomial tail P(X >= k), p = part of the armed time that lies within three minutes before disarming."),
	threshold: words.Mark("Three alarms."),
	disproof:  words.Mark("Ask who came home that way, by which door: alarms with nobody there disprove it."),
	not:       words.Mark("Do not lengthen the entry time beyond what the station's rules allow; move the keypad instead."),
	needs:     lacksArming,
	find: func(d *data) []found {
		if len(d.armed) == 0 {
			return nil
		}
		alarms := d.episodes(d.joined(&d.of, burglaryAlarm), 600)
		var before []int32
		for _, a := range alarms {
			at := d.all[a].at
			if d.within(opened, at, at+180) >= 0 {
				before = append(before, a)
			}
		}
		if len(before) < 3 {
			return nil
		}
		return site1(binomialTail(len(alarms), len(before), d.armedShare(len(d.of[opened]), 180)), before,
			said{words.Mark("%d of %d burglary alarms were followed by disarming within three minutes."), []any{len(before), len(alarms)}})
	},
}

var weatherDays = cause{
	id: "weather", title: words.Mark("Weather: on certain days several doors and detectors alarm, hours apart"),
	looks:     words.Mark("Days on which three or more zones gave a burglary alarm, more than two hours between the first and the last."),
	statistic: words.Mark("Days with three or more zones: P(X >= k), X Poisson with days x P(three or more), each day Poisson with the mean number of zones."),
	threshold: words.Mark("Two such days, and two hours: a visitor walks through in minutes, wind takes all day."),
	disproof:  words.Mark("Look up wind and rain of these days: calm days disprove it."),
	not:       words.Mark("Do not lower the sensitivity of all detectors for a few stormy days."),
	find: func(d *data) []found {
		cases := []int32{}
		for i := range d.zones {
			cases = append(cases, d.episodes(d.free(d.zones[i].of[burglaryAlarm]), 3600)...)
		}
		slices.Sort(cases)
		byDay := map[int64][]int32{}
		for _, n := range cases {
			k := floorDay(d.local(d.all[n].at))
			byDay[k] = append(byDay[k], n)
		}
		var events []int32
		bad, zones := 0, 0
		for _, list := range byDay {
			zones += d.distinct(list)
			if d.distinct(list) >= 3 && d.all[list[len(list)-1]].at-d.all[list[0]].at > 7200 {
				bad++
				events = append(events, list...)
			}
		}
		if bad < 2 {
			return nil
		}
		slices.Sort(events)
		days := d.seconds() / 86400
		return site1(poissonTail(bad, days*poissonTail(3, float64(zones)/days)), events,
			said{words.Mark("%d days with three or more zones, hours apart, the first %s; %d zones alarmed on all other %d days together."), []any{bad, moment(d.all[events[0]].at), max(0, zones-d.distinctByDay(byDay)), int(days) - bad}})
	},
}

func (d *data) distinctByDay(byDay map[int64][]int32) int {
	n := 0
	for _, list := range byDay {
		if k := d.distinct(list); k >= 3 {
			n += k
		}
	}
	return n
}

var dirtyHead = cause{
	id: "dirty-head", title: words.Mark("A smoke detector that gets dirty: its alarms become more frequent"),
	looks:     words.Mark("Fire alarms of one zone over time, and maintenance that the detector asked for."),
	statistic: words.Mark("Laplace's trend test: U = (mean of the moments - 1/2) x sqrt(12 n), normal (Cox and Lewis, 1966)."),
	threshold: words.Mark("Six alarms; or three alarms and a request for maintenance (codes 385, 386, 392, 393), which is a rule, no chance."),
	disproof:  words.Mark("Clean it or exchange it and count on: the same rate disproves it."),
	not:       words.Mark("Do not lower its sensitivity and do not set verification to hide the dirt."),
	find: func(d *data) []found {
		var out []found
		for i := range d.zones {
			z := &d.zones[i]
			cases := d.episodes(d.free(z.of[fireAlarm]), 1800)
			asked := d.free(z.of[maintenance])
			switch {
			case len(asked) > 0 && len(cases) >= 3:
				out = append(out, byRule(int32(i), append(cases, asked...), said{words.Mark("%d alarms, and the detector asked for maintenance %d times, first on %s."), []any{len(cases), len(asked), moment(d.all[asked[0]].at)}}))
			case len(cases) >= 6:
				at := make([]float64, len(cases))
				late := 0
				for k, n := range cases {
					at[k] = float64(d.all[n].at-d.from) / d.seconds()
					if at[k] >= 2.0/3 {
						late++
					}
				}
				out = append(out, found{zone: int32(i), p: laplaceTail(at), events: cases, say: []said{
					{words.Mark("%d alarms, %d of them in the last third of the time."), []any{len(cases), late}},
				}})
			}
		}
		return out
	},
}

var listener = cause{
	id: "listener", title: words.Mark("The acoustic bridge hears something else: a hush test, a test by cleaners, the television"),
	looks:     words.Mark("Alarms of a bridge that listens to other alarms, with no other fire or gas zone within five minutes."),
	statistic: words.Mark("Binomial tail P(X >= k): k of n fire and gas alarms at one of m zones that alarm on fire or gas, p = 2/m."),
	threshold: words.Mark("Three alarms, all of them alone."),
	disproof:  words.Mark("Compare the audio time of each alarm with what went on in the house; a head that remembers an alarm of its own disproves it."),
	not:       words.Mark("Do not move the bridge away from the heads to make it quiet: then it hears no fire either."),
	needs: func(d *data) string {
		if d.site == nil {
			return words.Mark("Which zone is an acoustic bridge is told by the site file: give it.")
		}
		return ""
	},
	find: func(d *data) []found {
		m := 0
		if d.site != nil {
			for _, z := range d.site.Zones {
				if z.Kind.LifeSafety() {
					m++
				}
			}
		}
		all := d.episodes(d.joined(&d.of, fireAlarm, airAlarm), 1)
		var out []found
		for i := range d.zones {
			z := &d.zones[i]
			if !z.bridge() || m < 3 {
				continue
			}
			cases := d.episodes(d.joined(&z.of, fireAlarm, airAlarm), 600)
			alone := 0
			for _, n := range cases {
				other := false
				for k := d.since(all, d.all[n].at-300); k < len(all) && d.all[all[k]].at <= d.all[n].at+300 && !other; k++ {
					other = d.all[all[k]].zone != int32(i)
				}
				if !other {
					alone++
				}
			}
			if len(cases) < 3 || alone < len(cases) {
				continue
			}
			one := found{zone: int32(i), p: binomialTail(len(all), len(cases), min(1, 2/float64(m))), events: cases, say: []said{
				{words.Mark("%d alarms, none with another fire or gas zone beside it; all %d such zones gave %d."), []any{len(cases), m, len(all)}},
			}}
			if day, k, p := d.busiestDay(cases); p <= 0.01 {
				one.say = append(one.say, said{words.Mark("%d of them on a %s."), []any{k, day}})
			}
			if k, from, p := circleScan(d.angles(cases), 3.0/24); p <= 0.01 {
				one.say = append(one.say, said{words.Mark("%d of them within three hours from %s."), []any{k, clockAt(from)}})
			}
			out = append(out, one)
		}
		return out
	},
}

// busiestDay is the weekday with most events: 7 x P(Bin(n, 1/7) >= k).
func (d *data) busiestDay(list []int32) (day dayName, k int, p float64) {
	var n [7]int
	for _, i := range list {
		n[d.weekday(i)]++
	}
	for w, c := range n {
		if c > k {
			day, k = dayName(w), c
		}
	}
	return day, k, min(1, 7*binomialTail(len(list), k, 1.0/7))
}

// byHour looks for a window of the day in the alarms of each zone.
func (d *data) byHour(hours float64, least int, fits func(z *zoneData, middle float64) bool, say string, which ...class) []found {
	var out []found
	for i := range d.zones {
		z := &d.zones[i]
		cases := d.episodes(d.joined(&z.of, which...), 1800)
		if len(cases) < least {
			continue
		}
		k, from, p := circleScan(d.angles(cases), hours/24)
		middle := from*24 + hours/2
		if middle >= 24 {
			middle -= 24
		}
		if k*5 < len(cases)*3 || !fits(z, middle) {
			continue
		}
		out = append(out, found{zone: int32(i), p: p, events: d.joined(&z.of, which...), say: []said{{say, []any{k, len(cases), int(hours), clockAt(from)}}}})
	}
	return out
}

var (
	hourSay       = words.Mark("%d of %d alarms within %d hours from %s.")
	hourStatistic = words.Mark("Densest window on the clock: n x P(Bin(n-1, width) >= k-1), a union bound over the windows that begin at an alarm.")
)

var cooking = cause{
	id: "cooking", title: words.Mark("Cooking or steam: the alarms come at meal times"),
	looks:     words.Mark("Fire alarms of one zone within three hours of the day, their middle between 6 and 9, 11 and 14 or 17 and 21."),
	statistic: hourStatistic, threshold: words.Mark("Five alarms, three in five of them within three hours."),
	disproof: words.Mark("Keep a list of what was cooked and who showered for two weeks; alarms without either disprove it."),
	not:      words.Mark("Do not take the detector down or cover it; move it or choose another kind, by the rules of the place."),
	find: func(d *data) []found {
		return d.byHour(3, 5, func(_ *zoneData, h float64) bool {
			return h >= 6 && h <= 9 || h >= 11 && h <= 14 || h >= 17 && h <= 21
		}, hourSay, fireAlarm)
	},
}

var heatingStart = cause{
	id: "heating", title: words.Mark("The heating starts: warm air moves in front of a motion detector"),
	looks:     words.Mark("Burglary alarms of one zone within two hours of the early morning, while armed."),
	statistic: hourStatistic, threshold: words.Mark("Five alarms, three in five of them within two hours, their middle between 3 and 8."),
	disproof: words.Mark("Start the heating by hand while on test and watch the detector: no trip disproves it."),
	not:      words.Mark("Do not tape part of the lens without a new walk test."),
	find: func(d *data) []found {
		return d.byHour(2, 5, func(z *zoneData, h float64) bool {
			return h >= 3 && h <= 8 && (z.model == nil || z.model.Class == "motion")
		}, hourSay, burglaryAlarm)
	},
}

var sameWeekday = cause{
	id: "weekday", title: words.Mark("Somebody who comes on one day of the week: cleaners, a delivery, a club"),
	looks:     words.Mark("Alarms of one zone by day of the week."),
	statistic: words.Mark("7 x P(Bin(n, 1/7) >= k): the busiest of seven days."),
	threshold: words.Mark("Six alarms, half of them on one day."),
	disproof:  words.Mark("Ask who was there on these days; nobody, or always somebody else, disproves it."),
	not:       words.Mark("Do not leave the zone out on that day."),
	find: func(d *data) []found {
		var out []found
		for i := range d.zones {
			cases := d.episodes(d.joined(&d.zones[i].of, fireAlarm, airAlarm, burglaryAlarm, panicAlarm, buildingAlarm), 3600)
			if len(cases) < 6 {
				continue
			}
			if day, k, p := d.busiestDay(cases); k*2 >= len(cases) {
				out = append(out, found{zone: int32(i), p: p, events: cases, say: []said{{words.Mark("%d of %d alarms on a %s."), []any{k, len(cases), day}}}})
			}
		}
		return out
	},
}

var sameHour = cause{
	id: "same-hour", title: words.Mark("Something that happens at the same time of day: a machine, the sun, a routine"),
	looks:     words.Mark("Alarms of one zone within two hours of the day."),
	statistic: hourStatistic, threshold: words.Mark("Five alarms, three in five of them within two hours."),
	disproof: words.Mark("Be there at that hour for a week, or ask who is: alarms at other hours disprove it."),
	not:      words.Mark("Do not set a time window in which the zone is deaf."),
	find: func(d *data) []found {
		return d.byHour(2, 5, func(*zoneData, float64) bool { return true }, hourSay, fireAlarm, airAlarm, burglaryAlarm, panicAlarm, buildingAlarm)
	},
}

var modelFleet = cause{
	id: "fleet", title: words.Mark("Devices of one model and age fail alike"),
	looks:     words.Mark("Losses, troubles and tampers by model and month made, at most three cases of each device."),
	statistic: words.Mark("Binomial tail P(X >= k): k of n cases in a group of g among m devices, p = g/m; no device counts more than three times, so that one bad device is no group."),
	threshold: words.Mark("Three devices of the group, more than half of it."),
	disproof:  words.Mark("Exchange two of them for others of another batch and count on: the same rate disproves it."),
	not:       words.Mark("Do not exchange one by one as they fail."),
	needs: func(d *data) string {
		if d.site == nil {
			return words.Mark("Fleets of the same age are told by models and dates: give the site file.")
		}
		return ""
	},
	find: func(d *data) []found {
		if d.site == nil {
			return nil
		}
		type batch struct{ model, made string }
		type failing struct {
			devices, cases int
			events         []int32
		}
		group, failed := map[batch]int{}, map[batch]*failing{}
		for _, dev := range d.site.Devices {
			group[batch{string(dev.Model), dev.Made.String()}]++
		}
		m, n := len(d.site.Devices), 0
		for i := range d.zones {
			z := &d.zones[i]
			faults := d.joined(&z.of, lost, trouble, tamper)
			if z.device == nil || len(faults) == 0 {
				continue
			}
			b := batch{string(z.device.Model), z.device.Made.String()}
			if failed[b] == nil {
				failed[b] = &failing{}
			}
			cases := min(3, len(d.episodes(faults, 3600)))
			failed[b].devices++
			failed[b].cases += cases
			failed[b].events = append(failed[b].events, faults...)
			n += cases
		}
		var out []found
		for b, f := range failed {
			g := group[b]
			if f.devices < 3 || f.devices*2 <= g || b.made == "" || 2*g >= m {
				continue
			}
			slices.Sort(f.events)
			out = append(out, found{zone: -1, p: binomialTail(n, f.cases, float64(g)/float64(m)), events: f.events, say: []said{
				{words.Mark("%d of %d devices of model %s made %s failed, %d cases of %d; all other %d devices share the rest."), []any{f.devices, g, b.model, b.made, f.cases, n, m - g}},
			}})
		}
		slices.SortFunc(out, func(a, b found) int { return cmp.Or(len(b.events)-len(a.events), int(a.events[0]-b.events[0])) })
		return out
	},
}

var sinceChange = cause{
	id: "since-change", title: words.Mark("It began with a change of the programming"),
	looks:     words.Mark("Alarms, losses and troubles of one zone: nearly all after one change of the programming."),
	statistic: words.Mark("c x P(X >= k), X binomial: k of n events after one of c changes, p = part of the time that lies after it."),
	threshold: words.Mark("Six events after it and four in five of all, the first of them within 30 days, the change after the first quarter of the time."),
	disproof:  words.Mark("Compare the programming with the one before, or with the schedule: no difference at that zone disproves it."),
	not:       words.Mark("Do not change the device before the programming was compared."),
	find: func(d *data) []found {
		changes := d.of[programming]
		if len(changes) == 0 || len(changes) > 50 {
			return nil
		}
		var out []found
		for i := range d.zones {
			list := d.episodes(d.joined(&d.zones[i].of, fireAlarm, airAlarm, burglaryAlarm, buildingAlarm, lost, trouble), 3600)
			if len(list) < 6 {
				continue
			}
			for _, c := range changes {
				at := d.all[c].at
				after := float64(d.to-at) / d.seconds()
				first, _ := slices.BinarySearch(list, c)
				k := len(list) - first
				if k < 6 || k*5 < len(list)*4 || after > 0.75 || d.all[list[first]].at-at > 30*day {
					continue
				}
				p := min(1, float64(len(changes))*binomialTail(len(list), k, after))
				out = append(out, found{zone: int32(i), p: p, events: append([]int32{c}, list[first:]...), say: []said{
					{words.Mark("%d events since the change of %s, %d in the %d days before."), []any{k, moment(at), first, int((at - d.from) / day)}},
				}})
				break
			}
		}
		return out
	},
}

var standsOut = cause{
	id: "stands-out", vague: true, title: words.Mark("One zone alarms far more than the others; why, the history does not say"),
	looks:     words.Mark("Alarms by zone, within fire and gas and within burglary."),
	statistic: words.Mark("Binomial tail P(X >= k): k of n alarms at one of m zones, p = 3/m, so that three times its share still counts as chance."),
	threshold: words.Mark("Six alarms an hour apart: doors and rooms are not used alike, so three times the share is nothing unusual."),
	disproof:  words.Mark("Exchange its place or device with another one: alarms that stay at the place disprove the device."),
	not:       words.Mark("Do not swap parts until one of them was tried alone."),
	find: func(d *data) []found {
		var out []found
		for _, which := range [][]class{{fireAlarm, airAlarm}, {burglaryAlarm}, {buildingAlarm}} {
			all := d.joined(&d.of, which...)
			m := d.distinct(all)
			if d.site != nil {
				m = max(m, d.alarmZones)
			}
			if m < 4 {
				continue
			}
			total := 0
			cases := make([][]int32, len(d.zones))
			for i := range d.zones {
				cases[i] = d.episodes(d.joined(&d.zones[i].of, which...), 3600)
				total += len(cases[i])
			}
			for i, list := range cases {
				if len(list) < 6 {
					continue
				}
				out = append(out, found{zone: int32(i), p: binomialTail(total, len(list), min(1, 3/float64(m))), events: list, say: []said{
					{words.Mark("%d of %d alarms; %d zones alarm at all."), []any{len(list), total, m}},
				}})
			}
		}
		return out
	},
}
