package estimate

import (
	"cmp"
	"math"

	"proofbell/acoustics"
	"proofbell/geom"
	"proofbell/internal/building"
	"proofbell/internal/sorts"
	"proofbell/internal/words"
	"proofbell/quantity"
	"proofbell/site"
)

// View says how loud it is in every room and at every bed, in a language, against what is needed.
func (m *Sound) View(lang *words.Language, need SoundNeed) SoundView {
	v := SoundView{Label: lang.Word(Label), Doors: string(m.o.Doors), Rows: []SoundRow{}}
	ids := site.SortedIDs(m.s.Rooms)
	sorts.Stable(ids, func(a, b site.RoomID) int { return cmp.Compare(m.s.Rooms[a].Order, m.s.Rooms[b].Order) })
	for _, id := range ids {
		beds := site.SortedIDs(m.s.Rooms[id].Beds)
		for _, bed := range beds {
			v.Rows = append(v.Rows, m.Row(lang, need, id, bed))
		}
		if len(beds) == 0 {
			v.Rows = append(v.Rows, m.Row(lang, need, id, ""))
		}
	}
	v.Assumed, v.Missing = m.Notes(lang)
	if m.fit != nil {
		v.Fit = m.fit.say(lang)
	}
	return v
}

// Notes says what was assumed and what is missing, in a language.
func (m *Sound) Notes(lang *words.Language) (assumed, missing []string) {
	say := func(texts []words.Text) []string {
		out := make([]string, 0, len(texts))
		for _, t := range texts {
			out = append(out, t.In(lang))
		}
		return out
	}
	return say(m.assumed), say(m.missing)
}

// Told is Notes before it is said in a language.
func (m *Sound) Told() (assumed, missing []words.Text) { return m.assumed, m.missing }

// Row is one room, or one bed of it.
func (m *Sound) Row(lang *words.Language, need SoundNeed, id site.RoomID, bed site.BedID) SoundRow {
	row, _ := m.RowOf(lang, need, id, bed)
	return row
}

// RowOf is a row with the JSON pointer of the set of sounders that is heard least there: a group, the panel, or an alarm;
// empty for none.
func (m *Sound) RowOf(lang *words.Language, need SoundNeed, id site.RoomID, bed site.BedID) (SoundRow, string) {
	room := m.s.Rooms[id]
	row := SoundRow{
		Room: string(id), Name: cmp.Or(room.Name, string(id)), Storey: string(room.Storey), Bed: string(bed), Sleeping: Sleeps(room),
		Verdict: NotDetermined, Missing: []string{}, Terms: []Term{},
	}
	w := &rowWriter{m: m, lang: lang, row: &row}
	w.required(room, need)
	i, placed := m.b.RoomOf(id)
	if !placed {
		w.miss(lang.Say("outline or storey of the room"))
	} else if over, lies := m.b.Under(i); lies {
		w.miss(lang.Say("outline of the room: it lies over %s", m.b.Rooms[over].Name))
	} else if at := m.pillow(i, bed); at != nil && !m.b.Rooms[i].Outline.Contains(at.Plan()) {
		w.miss(lang.Say("place of the bed: it is drawn outside of its room"))
	} else {
		w.heard(i, bed, need)
	}
	row.Measured = m.measured(id, bed, w.set)
	row.OutSay = m.outSay(lang, id, bed)
	row.Say = row.Verdict.In(lang)
	if row.Measured != nil && row.Required != nil { // a meter is worth more than any sum
		margin := published(*row.Measured - *row.Required)
		row.Margin, row.Uncertainty, row.Verdict, row.ByReading = &margin, 0, Judge(margin, 0), true
		row.Say = lang.Say("%s (measured: %s dBA)", row.Verdict.In(lang), lang.Number(*row.Measured, 1))
	}
	return row, w.set
}

// Sleeps reports whether people sleep in a room.
func Sleeps(r site.Room) bool { return r.Sleeping || r.Use == "bedroom" }

// rowWriter fills one row with its terms.
type rowWriter struct {
	m    *Sound
	lang *words.Language
	row  *SoundRow
	set  string // that is heard least
}

func (w *rowWriter) miss(what string) { w.row.Missing = append(w.row.Missing, what) }

func (w *rowWriter) term(name string, value float64, unit, formula, source string) {
	w.row.Terms = append(w.row.Terms, Term{Name: name, Value: published(value), Unit: unit, Formula: formula, Source: source})
}

// published rounds to 0.1; silence is no level, and nothing below 0 dBA is told.
func published(v float64) float64 { return quantity.Round(v, 1) }

// level is an energy as it is published.
func level(energy float64) float64 {
	return published(max(0, float64(acoustics.Level(energy))))
}

// ambients are averages by use where none was measured, dBA; 0: not known. Source: NFPA 72, table A.18.4.4, confidence M.
var ambients = map[string]float64{
	"hall": 35, "corridor": 35, "stair": 35, "bedroom": 35, "flat": 35, "kitchen": 35, "lounge": 35, "dining": 35, "linen": 35, "store": 35,
	"bathroom": 35, "loft": 35, "cellar": 35, "office": 55,
}

func (w *rowWriter) required(room site.Room, need SoundNeed) {
	lang := w.lang
	demand, source := need.Elsewhere, need.ElsewhereSource
	if w.row.Sleeping {
		demand, source = need.Sleeping, need.SleepingSource
	}
	average, from := room.Ambient.SI(), lang.Say("as the site file gives it")
	if room.Ambient.IsZero() {
		from = lang.Say("not measured: usual for the use of the room, NFPA 72 table A.18.4.4 [M]")
		average = ambients[room.Use]
		if average == 35 && w.m.s.Premises.PayingGuests && (room.Use == "dining" || room.Use == "lounge") {
			average = 55 // people assemble there
		}
		if average == 0 && w.row.Sleeping {
			average = 35
		}
		if average == 0 {
			w.miss(lang.Say("ambient noise of the room"))
			return
		}
	}
	loudest := quantity.DBA(math.NaN())
	if !room.Loudest.IsZero() {
		loudest = quantity.DBA(room.Loudest.SI())
	}
	level, err := demand.Required(quantity.DBA(average), loudest)
	if err != nil {
		w.miss(lang.Say("ambient noise of the room"))
		return
	}
	w.term(lang.Say("ambient, average"), average, "dBA", "", from)
	if !room.Loudest.IsZero() {
		w.term(lang.Say("ambient, loudest for 60 s"), float64(loudest), "dBA", "", lang.Say("as the site file gives it"))
	}
	w.term(lang.Say("required"), float64(level), "dBA", RequiredFormula(lang, demand, !room.Loudest.IsZero()), source)
	value := published(float64(level))
	w.row.Required = &value
	w.row.RequiredSay = lang.Say("%s dBA (%s)", lang.Number(value, 1), source)
	if w.row.Sleeping {
		w.row.RequiredSay = lang.Say("%s dBA at the pillow (%s)", lang.Number(value, 1), source)
	}
}

// RequiredFormula is how a requirement comes about: with the loudest noise only where that was measured.
func RequiredFormula(lang *words.Language, d acoustics.Demand, loudest bool) string {
	out := "max(" + lang.Number(float64(d.Least), -1) + lang.Say(", average + %s", lang.Number(float64(d.OverAverage), -1))
	if loudest {
		out += lang.Say(", loudest + %s", lang.Number(float64(d.OverLoudest), -1))
	}
	return out + ")"
}

// pillow is the place of a bed; nil for none.
func (m *Sound) pillow(room int, bed site.BedID) *geom.Point3 {
	at := m.s.Rooms[m.b.Rooms[room].ID].Beds[bed].At
	p, ok := at.Point()
	if !ok {
		return nil
	}
	z, ok := at.Height()
	if !ok {
		z = m.b.Rooms[room].Z0 + Pillow
	}
	return &geom.Point3{X: p.X, Y: p.Y, Z: z}
}

// arrival is how a set is heard at a place: by the loudest of it.
type arrival struct {
	set         soundSet
	which       int // sounder; -1: nothing arrives
	level       float64
	uncertainty float64
}

// least is the arrival of the set that is heard least of those that have to be heard: the one of the worst verdict, and of
// those of the quietest. skip is a sounder that fails; -1: none. ok is false when there is no such set.
func (w *rowWriter) least(at *geom.Point3, room, skip int) (out arrival, ok bool) {
	m := w.m
	worst := 0
	for _, set := range m.sets {
		if !m.reaches(set, room) {
			continue
		}
		one := arrival{set: set, uncertainty: float64(acoustics.Uncertainty(2))}
		var energy float64
		if energy, one.which, _ = m.state.together(m, set, at, room, skip); one.which >= 0 {
			one.level, one.uncertainty = level(energy), m.uncertainty(one.which, at, room)
		}
		rank := 0
		if w.row.Required != nil && one.which >= 0 {
			switch Judge(published(one.level-*w.row.Required), one.uncertainty) {
			case Doubtful:
				rank = 1
			case Enough:
				rank = 2
			}
		}
		if !ok || rank < worst || rank == worst && one.level < out.level {
			out, worst, ok = one, rank, true
		}
	}
	return out, ok
}

func (w *rowWriter) heard(room int, bed site.BedID, need SoundNeed) {
	m, row, lang := w.m, w.row, w.lang
	at := m.pillow(room, bed)
	if at != nil {
		row.At = &[3]float64{at.X, at.Y, at.Z}
	}
	var sum float64
	for _, one := range m.sets {
		if m.counts(one, room) {
			_, _, all := m.state.together(m, one, at, room, -1)
			sum = max(sum, all)
		}
	}
	got, some := w.least(at, room, -1)
	which, set := got.which, got.set
	w.set = set.pointer
	open := m.gaps(room)
	if some && len(open) == 0 && row.Required != nil {
		open = m.hides(got, at, room, *row.Required)
	}
	if !some || which < 0 {
		if len(open) > 0 || !some {
			row.Missing = append(row.Missing, open...)
			if !some {
				w.miss(lang.Say("alarms and sounders with a level"))
			}
			return
		}
		silent, s := 0.0, level(sum)
		row.Level, row.Sum, row.Uncertainty = &silent, &s, float64(acoustics.Uncertainty(0))
		w.judge(open)
		return
	}
	l, s := got.level, level(sum)
	row.Level, row.Sum = &l, &s
	row.Carries, row.CarriesSay = m.sounders[which].pointer, m.sounderSay(lang, which)
	row.Uncertainty = got.uncertainty
	most := m.atMost(room, which)
	row.AtMost, row.Loud = &most, most > float64(need.Most)
	w.terms(room, which, at, set, need)
	w.judge(open)
	row.Without = w.without(room, at, which, open)
	w.alone(room, at)
}

// The place where somebody stands for the upper limit: the height of the ear, and how near to a sounder that hangs low.
const (
	ear     = 1.7 // m above the floor
	nearEar = 0.3 // m
)

// atMost is what may arrive where somebody stands in a room, dBA: every figure from its loud end. The echoes of a rating taken
// in full space are 3 dB more, those of the longest usual decay louder again; the uncertainty is added.
func (m *Sound) atMost(room, which int) float64 {
	echoes := 2 * m.rooms[room].louder
	if m.fit != nil { // readings have told how loud it is
		echoes = 1
	}
	var most float64
	for _, set := range m.sets {
		if !m.counts(set, room) {
			continue
		}
		var all float64
		for _, i := range set.of {
			all += echoes * m.state.heard(m, i, nil, room)
		}
		near := all
		for _, k := range set.of {
			one := m.sounders[k]
			if one.room != room {
				continue
			}
			at := geom.Point3{X: one.at.X, Y: one.at.Y, Z: min(one.at.Z-nearEar, m.b.Rooms[room].Z0+ear)}
			sum := all
			for _, i := range set.of {
				sum += m.state.heard(m, i, &at, room) - m.state.heard(m, i, nil, room)
			}
			near = max(near, sum)
		}
		most = max(most, near)
	}
	return published(max(0, float64(acoustics.Level(most))) + float64(acoustics.Uncertainty(m.state.passed(which, room))))
}

// judge compares level and requirement. Where something counts as tight for want of its loss, only "enough" is sure.
func (w *rowWriter) judge(open []string) {
	row := w.row
	if row.Level == nil || row.Required == nil {
		row.Missing = append(row.Missing, open...)
		return
	}
	margin := published(*row.Level - *row.Required)
	row.Margin = &margin
	row.Verdict = Judge(margin, row.Uncertainty)
	if row.Verdict != Enough && len(open) > 0 {
		row.Verdict = NotDetermined
		row.Missing = append(row.Missing, open...)
	}
	w.term(w.lang.Say("margin"), margin, "dB", "L - required", w.lang.Say("uncertainty ± %s dB, by the walls and doors passed [L]", w.lang.Number(row.Uncertainty, -1)))
}

// without is the row when the sounder that carries it fails.
func (w *rowWriter) without(room int, at *geom.Point3, fails int, open []string) *SoundWithout {
	out := &SoundWithout{Verdict: NotDetermined}
	got, _ := w.least(at, room, fails)
	l, u, which := got.level, got.uncertainty, got.which
	if which >= 0 {
		out.CarriesSay = w.m.sounderSay(w.lang, which)
	}
	out.Level = &l
	if w.row.Required != nil {
		margin := published(l - *w.row.Required)
		out.Margin = &margin
		out.Verdict = Judge(margin, u)
		if which < 0 {
			out.Verdict = TooLittle
		}
		if out.Verdict != Enough && len(open) > 0 {
			out.Verdict = NotDetermined
		}
	}
	out.Say = out.Verdict.In(w.lang)
	return out
}

// alone tells what sounds in the room for the fire in it only.
func (w *rowWriter) alone(room int, at *geom.Point3) {
	for _, set := range w.m.sets {
		if i := set.of[0]; set.alone && set.fire && w.m.sounders[i].room == room {
			w.term(w.lang.Say("%s, for a fire in this room only", w.m.sounders[i].name.In(w.lang)), level(w.m.state.heard(w.m, i, at, room)), "dBA", "", w.lang.Say("not joined: it does not count here"))
		}
	}
}

// gaps names what is not known of the partitions of a room.
func (m *Sound) gaps(room int) []string {
	return m.unknown(func(l soundLink) bool { return l.a == room || l.b == room })
}

// unknown names what is not known between rooms, of those that are asked for; nil: of all.
func (m *Sound) unknown(asked func(soundLink) bool) []string {
	var out []string
	if len(m.state.links) == 0 {
		return nil
	}
	for _, l := range m.state.links[0] { // much the same for every tone
		if l.unknown && l.a >= 0 && (asked == nil || asked(l)) {
			out = append(out, m.b.Rooms[l.a].Name+" / "+m.b.Rooms[l.b].Name)
		}
	}
	return out
}

// hides names what is not known farther off, where a set that is not heard surely would get another verdict if that let all
// sound through.
func (m *Sound) hides(got arrival, at *geom.Point3, room int, required float64) []string {
	verdict := TooLittle
	if got.which >= 0 {
		verdict = Judge(published(got.level-required), got.uncertainty)
	}
	if m.loose == nil || verdict == Enough {
		return nil
	}
	energy, which, _ := m.loose.together(m, got.set, at, room, -1)
	if which < 0 || Judge(published(level(energy)-required), m.uncertainty(which, at, room)) == verdict {
		return nil
	}
	return m.unknown(nil)
}

func (m *Sound) sounderSay(lang *words.Language, i int) string {
	one := m.sounders[i]
	if one.room < 0 {
		return one.name.In(lang)
	}
	return lang.Say("%s in %s", one.name.In(lang), m.b.Rooms[one.room].Name)
}

// measured is the newest reading at a bed or, without one, anywhere in a room, that can stand in for the estimate: taken there
// and not at a device, with the doors so in writing as is asked, and of the set by which the room is judged.
func (m *Sound) measured(room site.RoomID, bed site.BedID, set string) *float64 {
	reach := 0
	i, placed := m.b.RoomOf(room)
	for _, one := range m.sets {
		if placed && m.reaches(one, i) || !placed && one.reaches() {
			reach++
		}
	}
	// All that sound are that set where there is one; where there is none, nothing that sounds may be for another danger.
	all := reach == 1 || len(m.sets) == 0
	var out *float64
	for _, r := range m.o.Readings {
		if r.Room == room && (r.Bed == bed || bed == "") && r.Doors == m.o.Doors && !r.Device && (r.Source == "" && all || r.Source != "" && r.Source == set) {
			v := r.Level
			out = &v
		}
	}
	return out
}

// outSay is the newest reading of a place that is out of date, in words; empty when a newer one counts, or for none.
func (m *Sound) outSay(lang *words.Language, room site.RoomID, bed site.BedID) string {
	say := ""
	for _, r := range m.old {
		if r.Room == room && r.Bed == bed && !r.Device {
			say = lang.Say("%s dBA were measured; %s", lang.Number(r.Level, -1), r.Out.In(lang))
		}
	}
	return say
}

// terms lists how the level came about: of the sounder that carries the room.
func (w *rowWriter) terms(room, which int, at *geom.Point3, set soundSet, need SoundNeed) {
	m, lang, st := w.m, w.lang, w.m.state
	one, src := m.sounders[which], st.sources[which]
	w.term(lang.Say("rated level of %s at 3 m", m.sounderSay(lang, which)), one.rated, "dBA", "", lang.Say("as the site file gives it, else the least of UL 217 and EN 14604"))
	if m.fit != nil && m.fit.adjust.level != 0 {
		w.term(lang.Say("correction fitted to readings"), m.fit.adjust.level, "dB", "", lang.Say("readings on site"))
	}
	w.term(lang.Say("tone"), one.tone, "Hz", "", lang.Say("as the site file gives it, else 3.1 kHz"))
	w.term(lang.Say("sound power"), float64(src.Power), "dBA", "Lw = Lp + 10 log(4 π r² / Q), Q = 2", lang.Say("definition; half space is the cautious choice"))
	way := m.way(st, one.room, room)
	for k, r := range way {
		of := m.rooms[r]
		w.term(lang.Say("absorption of %s", m.b.Rooms[r].Name), of.absorption, "m²", "A = 0.161 V / T60, T60 = "+lang.Number(quantity.Round(of.decay, 2), -1)+" s, V = "+lang.Number(quantity.Round(m.b.Rooms[r].Volume, 1), -1)+" m³", lang.Say("Sabine; decay: %s", of.source.In(lang)))
		if k == 0 {
			continue
		}
		for _, l := range st.links[st.tone[which]] {
			if l.a == min(way[k-1], r) && l.b == max(way[k-1], r) {
				w.term(lang.Say("loss from %s to %s, all parts of %s m²", m.b.Rooms[way[k-1]].Name, m.b.Rooms[r].Name, lang.Number(quantity.Round(l.area, 1), -1)), l.loss(), "dB", "R = -10 log(Σ S 10^(-R/10) / Σ S) ≤ 45", "ISO 12354-1")
			}
		}
	}
	w.term(lang.Say("echoes, over all ways"), level(st.heard(m, which, nil, room)), "dBA", "E_i (A_i + Σ T_ij) = 4 W_i (1 - A_i/S_i) + Σ T_ij E_j, T = Σ S 10^(-R/10)", lang.Say("power balance of the rooms, ISO 12354-1 for each wall [PLAN]"))
	if at != nil {
		away := one.at.Distance(*at)
		through := st.scene[st.tone[which]].Loss(one.at, *at)
		w.term(lang.Say("distance to the pillow"), away, "m", "", lang.Say("from the plan"))
		w.term(lang.Say("lost on the straight way"), min(through, 200), "dB", "Σ R", lang.Say("walls, doors and floors that it passes"))
		w.term(lang.Say("straight"), level(src.Direct(quantity.Metre(away), quantity.DB(through))), "dBA", "Lw + 10 log(Q / (4 π r²)) - Σ R", lang.Say("inverse-square law"))
	}
	w.term(lang.Say("level of the loudest"), *w.row.Level, "dBA", "10 log(10^(L1/10) + 10^(L2/10))", lang.Say("echoes and straight way; patterns that do not beat together do not add up"))
	if len(set.of) > 1 {
		w.term(lang.Say("all that sound together"), *w.row.Sum, "dBA", "10 log Σ 10^(L/10)", "")
	}
	w.term(lang.Say("at most, where somebody stands"), *w.row.AtMost, "dBA", lang.Say("under the nearest sounder, rated in full space, longest usual decay, uncertainty added"), lang.Say("for the upper limit of %s dBA only: %s", lang.Number(float64(need.Most), -1), need.MostSource))
}

// way is the rooms on the loudest way from one to another, both included.
func (m *Sound) way(st *soundState, from, to int) []int {
	if from < 0 || from == to || len(st.links) == 0 {
		return []int{to}
	}
	net := geom.NewNetwork(len(m.rooms))
	for _, l := range st.links[0] {
		if l.open > 0 && l.a >= 0 {
			// Longer the more it takes off; the room behind counts with what it swallows, the same whichever way.
			net.Join(l.a, l.b, max(0.01, 40-10*math.Log10(l.open/math.Sqrt(m.rooms[l.a].absorption*m.rooms[l.b].absorption))))
		}
	}
	far, before := net.From([]geom.Start{{Node: from}})
	if math.IsInf(far[to], 1) {
		return []int{to}
	}
	out := []int{to}
	for n := before[to]; n >= 0; n = before[n] {
		out = append([]int{n}, out...)
	}
	return out
}

// Between is how a sounder arrives at a place: for one that listens there.
type Between struct {
	Distance float64 // m
	Free     float64 // dBA over that distance with nothing between
	Doors    int     // shut doors on the shortest way on foot
	Loss     float64 // dB that they take off
	Straight float64 // dBA: Free less Loss
	Level    float64 // dBA with the echoes of the rooms
}

// Between says how a head arrives at a place in a room. ok is false when something is not known for it.
func (m *Sound) Between(head site.HeadID, to site.Coordinates, room site.RoomID) (out Between, ok bool) {
	at, _, ok := m.b.Place(to, room)
	i, placed := m.b.RoomOf(room)
	if !ok || !placed {
		return out, false
	}
	for k, one := range m.sounders {
		if one.pointer != "/heads/"+string(head) || one.room == building.Outside {
			continue
		}
		out.Distance = quantity.Round(one.at.Distance(at), 2)
		free, err := acoustics.FreeField(quantity.DBA(one.rated), ratedAt, quantity.Metre(out.Distance))
		walk, reached := m.b.Walk(one.at.Plan(), one.room, at.Plan(), i)
		if err != nil || !reached {
			return out, false
		}
		for _, id := range walk.Doors {
			for p := range m.b.Pieces {
				piece := &m.b.Pieces[p]
				if piece.Opening != id || piece.Kind == "" {
					continue
				}
				made, door := stands(piece, m.o.Doors)
				if made.Open || !door {
					continue
				}
				dB, known, _ := m.lossOf(made, one.tone, door, adjust{})
				if !known {
					return out, false
				}
				out.Doors++
				out.Loss += dB
			}
		}
		out.Free = float64(free)
		out.Straight = published(max(0, out.Free-out.Loss))
		out.Level = level(m.state.heard(m, k, &at, i))
		return out, true
	}
	return out, false
}
