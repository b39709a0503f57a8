package history

import (
	"math"

	"proofbell/internal/words"
)

// Mains, batteries of the panel, and what happens when they go.

func poissonNone(mean float64) float64 { return math.Exp(-mean) }

var mainsAlarms = cause{
	id: "mains-alarms", title: words.Mark("The zone alarms when the mains fails or comes back: a mains module that drops out"),
	looks:     words.Mark("Fire and gas alarms within two minutes of a loss or return of the mains."),
	statistic: words.Mark("Binomial tail P(X >= k), p = part of the time that lies within two minutes of a change of the mains."),
	threshold: words.Mark("Two alarms: once can be a real fire that took the mains with it."),
	disproof:  words.Mark("Have the electrician switch that circuit off and on while on test: no alarm disproves it."),
	not:       words.Mark("Do not delay or bypass the zone: it carries smoke."),
	needs: func(d *data) string {
		if len(d.of[mainsLost]) == 0 && len(d.of[fireAlarm]) > 0 {
			return words.Mark("Alarms at power cuts: the history has no report of the mains. It would need them, or the network operator's list of cuts.")
		}
		return ""
	},
	find: func(d *data) []found {
		changes := len(d.of[mainsLost]) + len(d.of[mainsBack])
		if changes == 0 {
			return nil
		}
		p := min(1, float64(changes)*240/d.seconds())
		var out []found
		for i := range d.zones {
			list := d.episodes(d.joined(&d.zones[i].of, fireAlarm, airAlarm), 600)
			var at []int32
			for _, a := range list {
				t := d.all[a].at
				if d.within(mainsLost, t-120, t+120) >= 0 || d.within(mainsBack, t-120, t+120) >= 0 {
					at = append(at, a)
				}
			}
			if len(at) < 2 {
				continue
			}
			out = append(out, found{zone: int32(i), p: binomialTail(len(list), len(at), p), events: at, say: []said{
				{words.Mark("%d of %d alarms within two minutes of a loss or return of the mains; there were %d such changes."), []any{len(at), len(list), changes}},
			}})
		}
		return out
	},
}

var standbyShort = cause{
	id: "standby-short", title: words.Mark("The panel's battery no longer carries it"),
	looks:     words.Mark("Low system battery while the mains is away, and how long after."),
	statistic: words.Mark("A rule, no chance: the battery is there to last."),
	threshold: words.Mark("Two outages in which it was low before half of the standby time (of the site file, else 24 h as an assumption)."),
	disproof:  words.Mark("On test, switch off the breaker of the panel alone and measure voltage and time at the battery under the real load; mains parts are the electrician's."),
	not:       words.Mark("Do not only clear the trouble: a battery that charges well may hold nothing."),
	find: func(d *data) []found {
		standby := 24.0 * 3600
		if d.site != nil && !d.site.Power.Standby.IsZero() {
			standby = d.site.Power.Standby.SI()
		}
		var events []int32
		shortest := int64(math.MaxInt64)
		for _, s := range d.spans(mainsLost, mainsBack) {
			if low := d.within(powerLow, s.from, s.to); low >= 0 {
				if after := d.all[low].at - s.from; float64(after) < standby/2 {
					events = append(events, s.first, low)
					shortest = min(shortest, after)
				}
			}
		}
		if len(events) < 4 {
			return nil
		}
		return []found{byRule(-1, events, said{words.Mark("%d times the battery was low while the mains was away, the earliest %s after the loss; the standby time is %s."), []any{len(events) / 2, lasting(shortest), lasting(int64(standby))}})}
	},
}

var mainsByHour = cause{
	id: "mains-by-hour", title: words.Mark("The mains goes at the same hour: a time switch, a machine, somebody's plug"),
	looks:     words.Mark("Losses of the mains by time of day."),
	statistic: words.Mark("Densest window of 1 hour on the clock: n x P(Bin(n-1, 1/24) >= k-1), a union bound over the windows that begin at a loss."),
	threshold: words.Mark("Five losses, half of them in one hour."),
	disproof:  words.Mark("Have the electrician find what else is on that circuit; a circuit of its own disproves it."),
	not:       words.Mark("Do not fit a larger battery to bridge it."),
	find: func(d *data) []found {
		list := d.episodes(d.free(d.of[mainsLost]), 1800)
		k, from, p := circleScan(d.angles(list), 1.0/24)
		if len(list) < 5 || k*2 < len(list) {
			return nil
		}
		return site1(p, d.free(d.of[mainsLost]), said{words.Mark("%d of %d losses of the mains began within an hour from %s."), []any{k, len(list), clockAt(from)}})
	},
}
