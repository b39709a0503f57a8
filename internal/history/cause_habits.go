package history

import (
	"cmp"
	"slices"

	"proofbell/internal/sorts"
	"proofbell/internal/words"
)

// Heads, habits and hours: what alarms without a fire or a burglar, and what devices have in common.

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
		sorts.By(out, func(a, b found) int { return cmp.Or(len(b.events)-len(a.events), int(a.events[0]-b.events[0])) })
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
