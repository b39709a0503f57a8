package history

import (
	"slices"
	"time"

	"proofbell/internal/sorts"
	"proofbell/internal/words"
)

// raw is a line that was understood but for its time.
type raw struct {
	stamp stamp
	panel stamp
	text  string // of the line, for the list of what can not be read
}

// order tells how a's groups are to be taken.
type order int8

const (
	dayMonth order = iota
	monthDay
	yearFirst
)

var orderNames = map[order]string{dayMonth: "day-month-year", monthDay: "month-day-year", yearFirst: "year-month-day"}

// civil is a date with the groups put in order. ok is false for a day that no calendar has.
func (t *stamp) civil(o order, year int) (y, m, d int, ok bool) {
	switch {
	case t.named:
		y, m, d = int(t.c), int(t.b), int(t.a)
	case t.yearAlways:
		y, m, d = int(t.a), int(t.b), int(t.c)
	case o == yearFirst && t.c >= 0:
		y, m, d = int(t.a), int(t.b), int(t.c)
	case o == monthDay:
		y, m, d = int(t.c), int(t.a), int(t.b)
	default:
		y, m, d = int(t.c), int(t.b), int(t.a)
	}
	switch {
	case y < 0:
		y = year
	case y < 70:
		y += 2000
	case y < 100:
		y += 1900
	}
	return y, m, d, y >= 1970 && y <= 2200 && m >= 1 && m <= 12 && d >= 1 && d <= daysIn(y, m)
}

func daysIn(y, m int) int {
	switch m {
	case 2:
		if y%4 == 0 && (y%100 != 0 || y%400 == 0) {
			return 29
		}
		return 28
	case 4, 6, 9, 11:
		return 30
	}
	return 31
}

// clockSeconds are the seconds since midnight.
func (t *stamp) clockSeconds() int {
	h := int(t.h)
	switch {
	case t.half == 1 && h == 12:
		h = 0
	case t.half == 2 && h < 12:
		h += 12
	}
	return h*3600 + int(t.m)*60 + int(t.s)
}

// dayNumber counts days from 1970-01-01 (days_from_civil of the proleptic Gregorian calendar).
func dayNumber(y, m, d int) int {
	if m <= 2 {
		y--
	}
	era := y / 400
	yoe := y - era*400
	mp := (m + 9) % 12
	doy := (153*mp+2)/5 + d - 1
	doe := yoe*365 + yoe/4 - yoe/100 + doy
	return era*146097 + doe - 719468
}

// settle finds the order of the dates, from what can only be read in one way, from the order of the lines, or from what is
// known from outside. ok is false when nothing tells.
func settle(rows []raw, opt Options, say func(string, ...any)) (o order, ok bool) {
	feasible := []order{dayMonth, monthDay, yearFirst}
	var onlyDay, onlyMonth, onlyYear, open int
	dots := true
	for i := range rows {
		t := &rows[i].stamp
		if !t.hasDate || t.named || t.yearAlways {
			continue
		}
		open++
		dots = dots && t.dot
		_, _, _, d := t.civil(dayMonth, 2000)
		_, _, _, m := t.civil(monthDay, 2000)
		y := false
		if t.c >= 0 && t.wc == 2 {
			_, _, _, y = t.civil(yearFirst, 2000)
		}
		switch {
		case d && !m && !y:
			onlyDay++
		case m && !d && !y:
			onlyMonth++
		case y && !d && !m:
			onlyYear++
		}
	}
	if open == 0 {
		return dayMonth, true
	}
	switch certain := onlyDay + onlyMonth + onlyYear; {
	case certain == 0:
	case onlyDay*50 >= certain*49:
		say(words.Mark("Dates are day, month, year: %d of them can only be read that way."), onlyDay)
		return dayMonth, true
	case onlyMonth*50 >= certain*49:
		say(words.Mark("Dates are month, day, year: %d of them can only be read that way."), onlyMonth)
		return monthDay, true
	case onlyYear*50 >= certain*49:
		say(words.Mark("Dates are year, month, day: %d of them can only be read that way."), onlyYear)
		return yearFirst, true
	}
	if dots {
		say(words.Mark("Dates are day, month, year: they are written with dots."))
		return dayMonth, true
	}
	// What would lie in the future or far from the day that is surely covered falls out.
	type reading struct {
		o          order
		up, down   int
		near, past bool
		bad        int
	}
	var left []reading
	for _, o := range feasible {
		r := reading{o: o, past: true}
		last := 0
		for i := range rows {
			t := &rows[i].stamp
			if !t.hasDate {
				continue
			}
			y, m, d, ok := t.civil(o, 2000)
			if !ok || o == yearFirst && !t.yearAlways && !t.named && (t.c < 0 || t.wc != 2) {
				r.bad++
				continue
			}
			n := dayNumber(y, m, d)
			if t.c >= 0 {
				at := time.Unix(int64(n)*86400, 0)
				r.past = r.past && (opt.Now.IsZero() || at.Before(opt.Now.Add(36*time.Hour)))
				r.near = r.near || !opt.Near.IsZero() && at.After(opt.Near.Add(-60*time.Hour)) && at.Before(opt.Near.Add(36*time.Hour))
			}
			if last != 0 && n > last {
				r.up++
			} else if last != 0 && n < last {
				r.down++
			}
			last = n
		}
		if r.bad*50 <= open {
			left = append(left, r)
		}
	}
	if !opt.Near.IsZero() && slices.ContainsFunc(left, func(r reading) bool { return r.near }) {
		left = slices.DeleteFunc(left, func(r reading) bool { return !r.near })
		if len(left) == 1 {
			say(words.Mark("Dates are read so that the history covers %s."), opt.Near.Format(time.DateOnly))
			return left[0].o, true
		}
	}
	if slices.ContainsFunc(left, func(r reading) bool { return r.past }) {
		left = slices.DeleteFunc(left, func(r reading) bool { return !r.past })
		if len(left) == 1 {
			say(words.Mark("Dates are read in the only order that puts none of them in the future."))
			return left[0].o, true
		}
	}
	// A history is kept in order of time: one way of reading gives order, the others do not.
	sorts.Stable(left, func(a, b reading) int { return min(a.up, a.down) - min(b.up, b.down) })
	if len(left) > 1 {
		a, b := left[0], left[1]
		if steps := a.up + a.down; steps >= 4 && min(a.up, a.down)*20 <= steps && min(b.up, b.down) >= 2+5*min(a.up, a.down) {
			say(words.Mark("Dates are read in the order that puts the lines in order of time: %d steps back, read the other way %d."), min(a.up, a.down), min(b.up, b.down))
			return a.o, true
		}
		// The same day every time reads the same in both orders (05/05): nothing to settle.
		same := true
		for i := range rows {
			t := &rows[i].stamp
			same = same && (!t.hasDate || t.named || t.yearAlways || t.a == t.b)
		}
		if same && a.o != yearFirst && b.o != yearFirst {
			return dayMonth, true
		}
	} else if len(left) == 1 {
		return left[0].o, true
	}
	return 0, false
}

// local turns civil times of a zone into UTC, quickly: a day without a change of the clock has one offset.
type local struct {
	zone *time.Location
	days map[int]dayOffset
}

type dayOffset struct {
	seconds int
	plain   bool
}

// utc returns the moment in Unix seconds. Where the clock was set back, after is what breaks the tie: the moment that
// comes nearest behind it. missing: no such time on that day.
func (l *local) utc(day, clock int, tie int64) (unix int64, missing bool) {
	o, ok := l.days[day]
	if !ok {
		from := civilIn(l.zone, day, 0)
		to := civilIn(l.zone, day+1, 0)
		_, a := from.Zone()
		_, b := to.Zone()
		o = dayOffset{a, a == b}
		if l.days == nil {
			l.days = map[int]dayOffset{}
		}
		l.days[day] = o
	}
	if o.plain {
		return int64(day)*86400 + int64(clock-o.seconds), false
	}
	first := civilIn(l.zone, day, clock)
	civil := int64(day)*86400 + int64(clock)
	_, offset := first.Zone()
	if first.Unix()+int64(offset) != civil {
		return civil - int64(o.seconds), true // the clock was not set forward
	}
	best := first.Unix()
	for _, shift := range []int64{-3600, 3600} {
		other := time.Unix(best+shift, 0).In(l.zone)
		if _, o := other.Zone(); other.Unix()+int64(o) == civil && abs(other.Unix()-tie) < abs(best-tie) {
			best = other.Unix()
		}
	}
	return best, false
}

func civilIn(zone *time.Location, day, clock int) time.Time {
	base := time.Unix(int64(day)*86400, 0).UTC()
	return time.Date(base.Year(), base.Month(), base.Day(), clock/3600, clock/60%60, clock%60, 0, zone)
}

func abs(v int64) int64 {
	if v < 0 {
		return -v
	}
	return v
}
