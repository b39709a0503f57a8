package history

import (
	"cmp"
	"maps"
	"slices"
	"strings"

	"proofbell/internal/words"
	"proofbell/signal"
)

// What arrives under the wrong name, late, in part, or not at all.

// otherAccounts calls f for each account that is not the site's, most frequent first, with the lines of its events.
func (d *data) otherAccounts(f func(account string, lines []int) bool) []found {
	var out []found
	names := slices.SortedFunc(maps.Keys(d.accounts), func(a, b string) int {
		return cmp.Or(cmp.Compare(d.accounts[b], d.accounts[a]), strings.Compare(a, b))
	})
	if len(names) > 50 {
		return nil // the history of a whole station
	}
	for _, a := range names {
		if a == d.account {
			continue
		}
		var lines []int
		for i := range d.r.Events {
			if d.r.Events[i].Account == a {
				lines = append(lines, d.r.Events[i].Line)
			}
		}
		if f(a, lines) {
			one := byRule(-1, nil, said{words.Mark("%d events came under account %s, %d under %s."), []any{len(lines), a, d.accounts[d.account], d.account}})
			one.lines = lines
			out = append(out, one)
		}
	}
	return out
}

var accountSwapped = cause{
	id: "account-swapped", title: words.Mark("Digits of the account are swapped"),
	looks:     words.Mark("Accounts in the history that have the site's digits in another order, or differ from it in one digit."),
	statistic: words.Mark("A rule, no chance: of 10,000 accounts of four digits about 40 are so near to a given one."),
	threshold: words.Mark("Two events: one can be a reading error of the line."),
	disproof:  words.Mark("Send a test signal and have the station read back the account, digit by digit."),
	not:       words.Mark("Do not test alarms before the account is right: somebody else's house may be answered."),
	find: func(d *data) []found {
		return d.otherAccounts(func(a string, lines []int) bool { return len(lines) >= 2 && nearAccount(a, d.account) })
	},
}

// nearAccount reports whether two accounts have the same digits in another order, or differ in one place.
func nearAccount(a, b string) bool {
	if len(a) != len(b) || a == b || len(a) < 3 {
		return false
	}
	x, y, differ := []byte(a), []byte(b), 0
	for i := range x {
		if x[i] != y[i] {
			differ++
		}
	}
	slices.Sort(x)
	slices.Sort(y)
	return differ == 1 || differ == 2 && slices.Equal(x, y)
}

var accountDefault = cause{
	id: "account-default", title: words.Mark("A default account was left in the panel or in one of its paths"),
	looks:     words.Mark("Accounts of one digit repeated, or 1234."),
	statistic: words.Mark("A rule, no chance."),
	threshold: words.Mark("One event: such an account belongs to nobody."),
	disproof:  words.Mark("Read the account out of every path of the communicator."),
	not:       words.Mark("Do not ask the station to map that account to this site: others may send it too."),
	find: func(d *data) []found {
		return d.otherAccounts(func(a string, _ []int) bool {
			return len(a) >= 3 && (strings.Count(a, a[:1]) == len(a) || a == "1234" || a == "123456")
		})
	},
}

var wrongCode = cause{
	id: "wrong-code", title: words.Mark("The right signal arrives with the wrong code"),
	looks:     words.Mark("Alarms of a zone whose code is neither the one of its schedule nor one that its kind sends."),
	statistic: words.Mark("A rule, no chance: a code is set, it does not drift."),
	threshold: words.Mark("Two alarms, or all of them."),
	disproof:  words.Mark("Trip the zone while on test and have the station read back the code."),
	not:       words.Mark("Do not let the station rename the code: its operators act by code, at night."),
	needs: func(d *data) string {
		if d.site == nil {
			return words.Mark("Whether a code is right is told by the zone schedule: give the site file.")
		}
		return ""
	},
	find: func(d *data) []found {
		var out []found
		for i := range d.zones {
			z := &d.zones[i]
			if z.site == nil {
				continue
			}
			var bad []int32
			code, all := "", 0
			for c := fireAlarm; c <= buildingAlarm; c++ {
				for _, n := range z.of[c] {
					w := d.r.Events[d.all[n].index].What
					if w.Code == "" {
						continue
					}
					all++
					expected, ok := signal.ExpectedFor(w.Format, string(z.site.Kind))
					if w.Code == z.site.Code || ok && expected.Alarm.Begins(w.Code) && z.site.Code == "" || w.Format == signal.SIADCS && (!ok || expected.Alarm.Begins(w.Code)) {
						continue
					}
					bad, code = append(bad, n), w.Code
				}
			}
			if len(bad) >= 2 || len(bad) > 0 && len(bad) == all {
				out = append(out, byRule(int32(i), bad, said{words.Mark("%d of %d alarms came with code %s; the schedule has %s."), []any{len(bad), all, code, z.site.Code}}))
			}
		}
		return out
	},
}

var codeChanged = cause{
	id: "code-changed", title: words.Mark("The code of a zone changed, and nobody told the station"),
	looks:     words.Mark("Alarms of a zone that had one code up to a day and another one from then on."),
	statistic: words.Mark("All of the a earlier before all of the b later, in any order equally likely: 1 / C(a+b, a)."),
	threshold: words.Mark("Three alarms with each code."),
	disproof:  words.Mark("Compare the panel's programming with the schedule; equal codes disprove it."),
	not:       words.Mark("Do not key the old code back before the kind of the zone was looked at: it may have been changed on purpose."),
	find: func(d *data) []found {
		var out []found
		for i := range d.zones {
			alarms := d.joined(&d.zones[i].of, fireAlarm, airAlarm, burglaryAlarm, panicAlarm, buildingAlarm)
			code := func(k int) string { return d.r.Events[d.all[alarms[k]].index].What.Code }
			cut := 0
			for cut < len(alarms) && code(cut) == code(0) {
				cut++
			}
			rest := len(alarms) - cut
			if cut < 3 || rest < 3 || code(0) == "" {
				continue
			}
			clean := true
			for k := cut; k < len(alarms); k++ {
				clean = clean && code(k) == code(cut)
			}
			if !clean {
				continue
			}
			p := 1.0
			for k := 1; k <= cut; k++ {
				p *= float64(k) / float64(rest+k)
			}
			out = append(out, found{zone: int32(i), p: p, events: alarms, say: []said{
				{words.Mark("%d alarms with code %s, then, from %s on, %d with %s and none with the old one."), []any{cut, code(0), moment(d.all[alarms[cut]].at), rest, code(cut)}},
			}})
		}
		return out
	},
}

var clockLost = cause{
	id: "clock-lost", title: words.Mark("The clock that wrote the history loses its time"),
	looks:     words.Mark("Times years behind the lines around them, and places where the clock went back."),
	statistic: words.Mark("A rule, no chance: a history that is kept in order does not go back."),
	threshold: words.Mark("One time that can not be true, or two steps back by more than two minutes."),
	disproof:  words.Mark("Compare the panel's clock with another one today, then again after a minute without mains."),
	not:       words.Mark("Do not use these times as proof of anything before the clock was set right."),
	find: func(d *data) []found {
		c := d.r.Clock
		if c.Doubtful == 0 && len(c.Jumps) < 2 {
			return nil
		}
		one := byRule(-1, nil)
		if c.Doubtful > 0 {
			one.say = append(one.say, said{words.Mark("%d times can not be true."), []any{c.Doubtful}})
			for i := range d.r.Events {
				if d.r.Events[i].Doubt {
					one.lines = append(one.lines, d.r.Events[i].Line)
				}
			}
		}
		for _, j := range c.Jumps[:min(3, len(c.Jumps))] {
			one.say = append(one.say, said{words.Mark("Line %d: from %s back to %s."), []any{j.Line, moment(j.From.Unix()), moment(j.To.Unix())}})
			one.lines = append(one.lines, j.Line)
		}
		return []found{one}
	},
}

var clockOff = cause{
	id: "clock-off", title: words.Mark("The panel's clock is wrong"),
	looks:     words.Mark("The panel's time beside the station's, where the history has both."),
	statistic: words.Mark("The median of the differences; a rule, no chance."),
	threshold: words.Mark("Ten lines with both times, and more than a minute: signals take seconds."),
	disproof:  words.Mark("Read the panel's clock beside one that is right."),
	not:       words.Mark("Do not compare times of panel and station before the difference is taken off."),
	find: func(d *data) []found {
		c := d.r.Clock
		if c.Both < 10 || c.AheadSecs <= 60 && c.AheadSecs >= -60 {
			return nil
		}
		say := words.Mark("The panel is ahead of the station by %s (median of %d lines).")
		if c.AheadSecs < 0 {
			say = words.Mark("The panel is behind the station by %s (median of %d lines).")
		}
		return []found{byRule(-1, nil, said{say, []any{lasting(abs(int64(c.AheadSecs))), c.Both}})}
	},
}

// unrestored are the alarms of a zone with no restore before the next alarm or within a day.
func (d *data) unrestored(z *zoneData) (alarms, open []int32) {
	alarms = d.episodes(d.joined(&z.of, fireAlarm, airAlarm, burglaryAlarm, buildingAlarm), 600)
	ends := z.of[alarmEnd]
	for k, i := range alarms {
		until := d.all[i].at + day
		if k+1 < len(alarms) {
			until = min(until, d.all[alarms[k+1]].at)
		}
		j, _ := slices.BinarySearch(ends, i)
		if j == len(ends) || d.all[ends[j]].at > until {
			open = append(open, i)
		}
	}
	return alarms, open
}

var noRestores = cause{
	id: "no-restores", title: words.Mark("Restores of alarms are not reported at all"),
	looks:     words.Mark("Alarms of all zones, and whether any of them was restored."),
	statistic: words.Mark("A rule, no chance."),
	threshold: words.Mark("Eight alarms and not one restore."),
	disproof:  words.Mark("Trip a contact on test and close it again: a restore at the station disproves it. Ask too whether its list leaves restores out."),
	not:       words.Mark("Do not take these alarms for standing ones: nobody can tell."),
	find: func(d *data) []found {
		alarms := d.joined(&d.of, fireAlarm, airAlarm, burglaryAlarm, buildingAlarm)
		if len(alarms) < 8 || len(d.of[alarmEnd]) > 0 {
			return nil
		}
		return []found{byRule(-1, alarms, said{words.Mark("%d alarms, no restore."), []any{len(alarms)}})}
	},
}

var restoreMissing = cause{
	id: "restore-missing", title: words.Mark("Restores of one zone are missing: reporting off, or a head that latches and was not reset"),
	looks:     words.Mark("Alarms of a zone with no restore within 24 h or before the next one, against the other zones."),
	statistic: words.Mark("Binomial tail P(X >= k), p = (open + 1) / (alarms + 2) of the other zones."),
	threshold: words.Mark("Four alarms of the zone and five of the others: before that the others tell too little."),
	disproof:  words.Mark("Trip it on test, wait, reset it: a restore at the station disproves it."),
	not:       words.Mark("Do not bypass the zone to get rid of the standing alarm."),
	needs: func(d *data) string {
		if len(d.of[alarmEnd]) == 0 {
			return words.Mark("Missing restores of one zone are told from the others: the history has no restores of alarms at all.")
		}
		return ""
	},
	find: func(d *data) []found {
		if len(d.of[alarmEnd]) == 0 {
			return nil
		}
		type count struct{ alarms, open []int32 }
		counts := make([]count, len(d.zones))
		alarms, open := 0, 0
		for i := range d.zones {
			a, o := d.unrestored(&d.zones[i])
			counts[i] = count{a, o}
			alarms, open = alarms+len(a), open+len(o)
		}
		var out []found
		for i, c := range counts {
			n, k := len(c.alarms), len(c.open)
			others := alarms - n
			if n < 4 || others < 5 || k*2 < n || d.zones[i].model != nil && d.zones[i].model.NoRestore {
				continue
			}
			p := float64(open-k+1) / float64(others+2)
			out = append(out, found{zone: int32(i), p: binomialTail(n, k, p), events: c.open, say: []said{
				{words.Mark("%d of %d alarms were not restored; of the %d alarms of the other zones %d were not."), []any{k, n, others, open - k}},
			}})
		}
		return out
	},
}

var backupUnproved = cause{
	id: "backup-unproved", title: words.Mark("Nothing arrives while the main path is down: the back-up is not proved"),
	looks:     words.Mark("Events between a path fault and its restore, against how many there usually are in that time."),
	statistic: words.Mark("P(X = 0) = exp(-mean), X Poisson with the usual number of events in the silent faults, times the ways to choose them among all."),
	threshold: words.Mark("Two silent faults, at least half of those over ten minutes. Reports in the first and last two minutes are not counted: they come with the change of the path."),
	disproof:  words.Mark("Unplug the main path on test and trip a zone: a signal at the station disproves it."),
	not:       words.Mark("Do not call two paths two before each has carried an alarm alone."),
	find: func(d *data) []found {
		var down int64
		faults, silences := 0, 0
		var events []int32
		rate := float64(len(d.all)) / d.seconds()
		for _, s := range d.spans(pathFault, pathBack) {
			if s.to-s.from < 600 || s.open {
				continue
			}
			faults++
			through := false
			for i := s.first + 1; int(i) < len(d.all) && d.all[i].at < s.to-120 && !through; i++ {
				through = d.all[i].class != pathFault && d.all[i].at > s.from+120
			}
			if !through && rate*float64(s.to-s.from) > 0.2 {
				silences++
				down += s.to - s.from
				events = append(events, s.first)
			}
		}
		if silences < 2 || silences*2 < faults {
			return nil
		}
		usual := rate * float64(down)
		p := poissonNone(usual)
		for k := range faults - silences { // which of the faults were silent was not known before
			p *= float64(faults-k) / float64(k+1)
		}
		return site1(min(1, p), events, said{words.Mark("A path was down and nothing arrived %d times, %s in all; %s events are usual in that time."), []any{silences, lasting(down), tenths(usual)}})
	},
}

var pathByHour = cause{
	id: "path-by-hour", title: words.Mark("Something takes the path down at the same hour: a restart of the router, a time switch"),
	looks:     words.Mark("Path faults by time of day."),
	statistic: words.Mark("Densest window of 1 hour on the clock: n x P(Bin(n-1, 1/24) >= k-1), a union bound over the windows that begin at a fault."),
	threshold: words.Mark("Five faults, half of them in one hour."),
	disproof:  words.Mark("Ask for the router's restart plan and its log at that hour."),
	not:       words.Mark("Do not lengthen the time after which the path counts as down."),
	find: func(d *data) []found {
		list := d.episodes(d.free(d.of[pathFault]), 1800)
		k, from, p := circleScan(d.angles(list), 1.0/24)
		if len(list) < 5 || k*2 < len(list) {
			return nil
		}
		return site1(p, d.free(d.of[pathFault]), said{words.Mark("%d of %d path faults began within an hour from %s."), []any{k, len(list), clockAt(from)}})
	},
}

var pathOften = cause{
	id: "path-often", title: words.Mark("A path fails far too often"),
	looks:     words.Mark("Path faults half an hour apart."),
	statistic: words.Mark("P(X >= k), X Poisson with 6 faults a year: about what a house connection does (an assumption, not a standard)."),
	threshold: words.Mark("Eight faults."),
	disproof:  words.Mark("Watch signal strength and supply of the communicator for a week; no loss disproves it."),
	not:       words.Mark("Do not turn the path trouble off."),
	find: func(d *data) []found {
		list := d.episodes(d.free(d.of[pathFault]), 1800)
		if len(list) < 8 {
			return nil
		}
		years := d.seconds() / (365.25 * 86400)
		return site1(poissonTail(len(list), 6*years), d.free(d.of[pathFault]), said{words.Mark("%d path faults in %s years."), []any{len(list), tenths(years)}})
	},
}

var silent = cause{
	id: "silent", title: words.Mark("The site was silent: nothing arrived, not even the periodic test"),
	looks:     words.Mark("Times without any event, where a periodic test comes regularly."),
	statistic: words.Mark("A rule, no chance: two tests in a row that do not come break the rule by which they come."),
	threshold: words.Mark("Ten tests with a regular gap, a silence of two and a half gaps, and tests again after it: one lost test is one lost line."),
	disproof:  words.Mark("Ask the panel's own log for that time: events that it stored and did not send prove a dead path; none, a dead panel."),
	not:       words.Mark("Do not count that time as watched."),
	needs: func(d *data) string {
		if len(d.of[periodicTest]) < 10 {
			return words.Mark("A silent site is told by periodic tests that do not come: the history needs ten of them.")
		}
		return ""
	},
	find: func(d *data) []found {
		tests := d.of[periodicTest]
		if len(tests) < 10 {
			return nil
		}
		gaps := make([]int64, 0, len(tests))
		for i := 1; i < len(tests); i++ {
			gaps = append(gaps, d.all[tests[i]].at-d.all[tests[i-1]].at)
		}
		sorted := slices.Clone(gaps)
		slices.Sort(sorted)
		usual := sorted[len(sorted)/2]
		regular := 0
		for _, g := range gaps {
			if abs(g-usual) <= usual/10 {
				regular++
			}
		}
		if regular*10 < len(gaps)*7 {
			return nil
		}
		var longest int64
		times := 0
		var events []int32
		for i := 1; i < len(d.all); i++ {
			gap := d.all[i].at - d.all[i-1].at
			if gap*2 >= usual*5 && d.within(periodicTest, d.all[i].at, d.all[i].at+usual*5/4) >= 0 {
				times++
				longest = max(longest, gap)
				events = append(events, int32(i-1), int32(i))
			}
		}
		if times == 0 {
			return nil
		}
		return []found{byRule(-1, events, said{
			words.Mark("Silences of more than two and a half test gaps: %d; the first from %s, the longest %s. Tests come every %s."),
			[]any{times, moment(d.all[events[0]].at), lasting(longest), lasting(usual)},
		})}
	},
}
