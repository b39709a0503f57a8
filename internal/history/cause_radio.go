package history

import "proofbell/internal/words"

// Radio devices that are no longer heard.

const (
	together = 300 // seconds: a receiver that fails is noticed for each device within its shortest loss window (200 s)
	nearby   = 900 // seconds in which a restart or interference belongs to a loss
)

// lostTogether are the moments in which three or more devices were lost, sorted by what happened beside them.
func (d *data) lostTogether(what func(from, to int64) bool) (events []int32, times, most int, first int64) {
	for _, g := range d.groups(d.free(d.of[lost]), together, 3) {
		from, to := d.all[g[0]].at, d.all[g[len(g)-1]].at
		if !what(from, to) {
			continue
		}
		if times == 0 {
			first = from
		}
		times++
		most = max(most, d.distinct(g))
		events = append(events, g...)
	}
	return events, times, most, first
}

// chanceTogether is that of so many devices within the window when each is lost by itself.
func (d *data) chanceTogether(most int) float64 {
	n := len(d.of[lost])
	return float64(n) * poissonTail(most-1, float64(n)*together/d.seconds())
}

var (
	togetherLooks     = words.Mark("Supervision lost by three or more devices within 300 s.")
	togetherStatistic = words.Mark("n x P(X >= k-1), X Poisson with the mean number of losses in 300 s: a union bound over the windows that begin at a loss.")
	togetherThreshold = words.Mark("Three devices: two can be chance, and 300 s hold the shortest loss window of 200 s.")
	togetherSay       = words.Mark("%d times three or more devices were lost within 300 s, up to %d at once, first on %s.")
)

func (d *data) restartNear(from, to int64) bool {
	return d.within(restart, from-nearby, to+nearby) >= 0 || d.within(powerLow, from-nearby, to) >= 0
}

var jammed = cause{
	id: "jamming", title: words.Mark("Radio interference takes many devices at once"),
	looks:     words.Mark("Supervision lost by three or more devices within 300 s, with interference reported within 15 minutes."),
	statistic: togetherStatistic, threshold: togetherThreshold,
	disproof: words.Mark("Measure the noise level at the receiver at the same hour; without a rise it is not interference."),
	not:      words.Mark("Do not replace devices: none of them is at fault."),
	find: func(d *data) []found {
		events, times, most, first := d.lostTogether(func(from, to int64) bool { return d.within(jamming, from-nearby, to+nearby) >= 0 })
		if times == 0 {
			return nil
		}
		return site1(d.chanceTogether(most), events, said{togetherSay, []any{times, most, moment(first)}},
			said{words.Mark("Interference was reported beside them (code 344 or its words): %d reports in all."), []any{len(d.of[jamming])}})
	},
}

var lostAtRestart = cause{
	id: "restart", title: words.Mark("The panel or its receiver restarts and loses all devices for a while"),
	looks:     words.Mark("Supervision lost by three or more devices within 300 s, with a restart or a failing supply within 15 minutes."),
	statistic: togetherStatistic, threshold: togetherThreshold,
	disproof: words.Mark("On test, restart the panel by hand: if the devices do not go missing, the restart is not the cause."),
	not:      words.Mark("Do not replace devices; find out why it restarts (supply, battery, terminals) first."),
	find: func(d *data) []found {
		events, times, most, first := d.lostTogether(d.restartNear)
		if times == 0 {
			return nil
		}
		return site1(d.chanceTogether(most), events, said{togetherSay, []any{times, most, moment(first)}},
			said{words.Mark("A restart or a supply trouble stands beside them: %d restarts, %d supply troubles in all."), []any{len(d.of[restart]), len(d.of[powerLow])}})
	},
}

var receiverLost = cause{
	id: "receiver", title: words.Mark("The receiver, its supply or its aerial fails: many devices go missing at once"),
	looks: togetherLooks, statistic: togetherStatistic, threshold: togetherThreshold,
	disproof: words.Mark("Read the levels of several devices at the receiver, move the aerial lead and its connector: steady levels speak against it."),
	not:      words.Mark("Do not change batteries of the devices: they did not fail in the same minute."),
	find: func(d *data) []found {
		events, times, most, first := d.lostTogether(func(from, to int64) bool { return true })
		if times == 0 {
			return nil
		}
		return site1(d.chanceTogether(most), events, said{togetherSay, []any{times, most, moment(first)}},
			said{words.Mark("No restart, supply trouble or interference was reported within 15 minutes of them."), nil})
	},
}

// lostByZone calls f for each zone that was lost four times or more, counted in cases that lie an hour apart.
func (d *data) lostByZone(f func(i int32, cases []int32, all int) []found) []found {
	all := len(d.episodes(d.free(d.of[lost]), 1))
	var out []found
	for i := range d.zones {
		cases := d.episodes(d.free(d.zones[i].of[lost]), 3600)
		if len(cases) >= 4 {
			out = append(out, f(int32(i), cases, all)...)
		}
	}
	return out
}

var blockedByHour = cause{
	id: "blocked-by-hour", title: words.Mark("Something stands in the radio's way at certain hours: a metal door, a vehicle, a machine"),
	looks:     words.Mark("Supervision lost by one device, at the same hours of the day."),
	statistic: words.Mark("Densest window of 9 hours on the clock: n x P(Bin(n-1, 9/24) >= k-1), a union bound over the windows that begin at a case."),
	threshold: words.Mark("Six cases and four in five of them within 9 hours: a door that is shut overnight is shut for about that long."),
	disproof:  words.Mark("Read the device's level by day and again at those hours; an equal level disproves it."),
	not:       words.Mark("Do not make the loss window longer: the device would be just as deaf, only later known."),
	find: func(d *data) []found {
		return d.lostByZone(func(i int32, cases []int32, _ int) []found {
			k, from, p := circleScan(d.angles(cases), 9.0/24)
			if len(cases) < 6 || k*5 < len(cases)*4 {
				return nil
			}
			return []found{{zone: i, p: p, events: d.free(d.zones[i].of[lost]), say: []said{
				{words.Mark("Lost %d times, %d of them in the 9 hours from %s."), []any{len(cases), k, clockAt(from)}},
			}}}
		})
	},
}

var weakRadio = cause{
	id: "weak-radio", title: words.Mark("Too little radio margin at one device"),
	looks:     words.Mark("Supervision lost now and then, by one device more than by the others, at no hour in particular."),
	statistic: words.Mark("Binomial tail P(X >= k): k of n losses at one of m zones, p = 2/m, so that twice its share still counts as chance."),
	threshold: words.Mark("Four cases an hour apart: fewer can be one bad day."),
	disproof:  words.Mark("Read its level with covers shut and doors closed: 15 dB or more above the least the receiver needs disproves it."),
	not:       words.Mark("Do not turn supervision off, and do not change the device before its level was read in another place."),
	needs: func(d *data) string {
		if d.zoneCount() < 3 && len(d.of[lost]) > 0 {
			return words.Mark("A weak device is told from the others: the history needs three zones or more, or the site file.")
		}
		return ""
	},
	find: func(d *data) []found {
		m := d.zoneCount()
		if m < 3 {
			return nil
		}
		return d.lostByZone(func(i int32, cases []int32, all int) []found {
			return []found{{zone: i, p: binomialTail(all, len(cases), min(1, 2/float64(m))), events: d.free(d.zones[i].of[lost]), say: []said{
				{words.Mark("Lost %d times; all %d zones together %d times."), []any{len(cases), m, all}},
			}}}
		})
	},
}

// Batteries.

const day = int64(86400)

// storm finds the first group of devices that reported a low battery within a day.
func (d *data) storm() []int32 {
	if g := d.groups(d.free(d.of[batteryLow]), day, 3); len(g) > 0 {
		return g[0]
	}
	return nil
}

func (d *data) chanceStorm(g []int32) float64 {
	n := len(d.of[batteryLow])
	return float64(n) * poissonTail(d.distinct(g)-1, float64(n)*float64(day)/d.seconds())
}

var (
	stormStatistic = words.Mark("n x P(X >= k-1), X Poisson with the mean number of low batteries in 24 h: a union bound over the windows that begin at one.")
	stormSay       = words.Mark("%d devices reported a low battery within 24 h, from %s on; in the whole history there were %d such reports.")
)

var oldFlags = cause{
	id: "old-flags", title: words.Mark("The receiver repeats old battery flags after a restart"),
	looks: words.Mark("Low battery from three or more devices within 24 h, a restart at most two hours before."), statistic: stormStatistic,
	threshold: words.Mark("Three devices within 24 h, and two hours: flags that a receiver had kept come with the first report of each device."),
	disproof:  words.Mark("Measure one of these batteries under load: a weak one disproves it."),
	not:       words.Mark("Do not buy a box of batteries before one was measured."),
	find: func(d *data) []found {
		g := d.storm()
		if g == nil || d.within(restart, d.all[g[0]].at-7200, d.all[g[0]].at) < 0 {
			return nil
		}
		return site1(d.chanceStorm(g), g, said{stormSay, []any{d.distinct(g), moment(d.all[g[0]].at), len(d.of[batteryLow])}},
			said{words.Mark("The panel had restarted within two hours before."), nil})
	},
}

var coldNight = cause{
	id: "cold-night", title: words.Mark("Weak batteries give way in the first cold night"),
	looks: words.Mark("Low battery from three or more devices within 24 h, most of them between 20:00 and 10:00."), statistic: stormStatistic,
	threshold: words.Mark("Three devices within 24 h, seven in ten at night: one by one is age, many in a night is cold on top of age."),
	disproof:  words.Mark("Look up that night's temperature, and measure a battery at room temperature: a mild night or a full battery disproves it."),
	not:       words.Mark("Do not clear the reports and wait for spring: these batteries have little left for an alarm."),
	find: func(d *data) []found {
		g := d.storm()
		if g == nil {
			return nil
		}
		night := 0
		for _, a := range d.angles(g) {
			if a >= 20.0/24 || a < 10.0/24 {
				night++
			}
		}
		if night*10 < len(g)*7 {
			return nil
		}
		return site1(d.chanceStorm(g), g, said{stormSay, []any{d.distinct(g), moment(d.all[g[0]].at), len(d.of[batteryLow])}},
			said{words.Mark("%d of these %d reports came between 20:00 and 10:00."), []any{night, len(g)}})
	},
}

var batteryFleet = cause{
	id: "battery-fleet", title: words.Mark("Batteries of the same age come to their end together"),
	looks:     words.Mark("Low battery from many devices within 60 days."),
	statistic: words.Mark("Binomial tail over m zones, each with chance 60 days / 4 years of its battery ending in the window, times the number of windows in the history."),
	threshold: words.Mark("Four devices within 60 days. Four years is the middle of the usual 3 to 5 years of a radio device's battery."),
	disproof:  words.Mark("Read the dates on the batteries: dates more than a year apart disprove it."),
	not:       words.Mark("Do not change only those that reported: the rest of the batch follows within weeks."),
	find: func(d *data) []found {
		const window = 60 * day
		var best []int32
		for _, g := range d.groups(d.free(d.of[batteryLow]), window, 4) {
			if d.distinct(g) > d.distinct(best) {
				best = g
			}
		}
		m, k := d.zoneCount(), d.distinct(best)
		if k < 4 {
			return nil
		}
		windows := max(1, d.seconds()/float64(window))
		return site1(min(1, windows*binomialTail(m, k, 60/(4*365.25))), best,
			said{words.Mark("%d of %d devices reported a low battery between %s and %s."), []any{k, m, moment(d.all[best[0]].at), moment(d.all[best[len(best)-1]].at)}})
	},
}
