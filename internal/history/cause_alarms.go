package history

import (
	"cmp"
	"slices"

	"proofbell/internal/sorts"
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
	disproof:  words.Mark("On test, trip each of the two alone and watch the panel: one zone alone disproves it."),
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
		sorts.By(out, func(a, b found) int { return cmp.Or(int(a.zone-b.zone), int(a.events[0]-b.events[0])) })
		return out
	},
}

var swinging = cause{
	id: "swinging", title: words.Mark("A swinging zone: loose magnet, warped door, wind, water in a joint"),
	looks:     words.Mark("Bursts of four or more reports of one zone within an hour."),
	statistic: words.Mark("n x P(X >= k-1), X Poisson with the zone's mean number in an hour: a union bound over the hours that begin at a report."),
	threshold: words.Mark("Two bursts on different days: one can be an intruder or a visit."),
	disproof:  words.Mark("Fix the contact with a magnet held by tape for a week: further bursts disprove the door. That opening is not watched meanwhile: the owner agrees, and it is put back."),
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
