package rules

import (
	"strings"

	"proofbell/acoustics"
	"proofbell/internal/estimate"
	"proofbell/internal/words"
	"proofbell/quantity"
	"proofbell/site"
)

// SoundNeed is what a rule set asks of the sound of alarms.
func SoundNeed(set *Set) estimate.SoundNeed {
	f := func(name string) float64 { return set.Figures[name].Value }
	source := func(name string) string {
		c := set.Figures[name].Clause
		return strings.Join(strings.Fields(c.Document+" "+c.Edition+" "+c.Clause), " ") + " [" + c.Confidence + "]"
	}
	over, loudest := quantity.DB(f("sound.over")), quantity.DB(f("sound.over-loudest"))
	return estimate.SoundNeed{
		Sleeping:        acoustics.Demand{OverAverage: over, OverLoudest: loudest, Least: quantity.DBA(f("sound.sleeping"))},
		Elsewhere:       acoustics.Demand{OverAverage: over, OverLoudest: loudest, Least: quantity.DBA(f("sound.elsewhere"))},
		Most:            quantity.DBA(f("sound.most")),
		SleepingSource:  source("sound.sleeping"),
		ElsewhereSource: source("sound.elsewhere"),
		MostSource:      source("sound.most"),
	}
}

// sound is the sound model with all doors shut, made when a rule first asks.
func (c *check) sound() *estimate.Sound {
	if c.heard == nil {
		c.heard = estimate.NewSound(c.Site, c.plan(), estimate.SoundOptions{Readings: c.measured.Sound})
	}
	return c.heard
}

// pillows are the rows of a room: one for each bed, or one for the room.
func (c *check) pillows(id site.RoomID) []estimate.SoundRow {
	var rows []estimate.SoundRow
	need := SoundNeed(c.set)
	for _, bed := range site.SortedIDs(c.Rooms[id].Beds) {
		rows = append(rows, c.sound().Row(c.lang, need, id, bed))
	}
	if len(rows) == 0 {
		rows = append(rows, c.sound().Row(c.lang, need, id, ""))
	}
	return rows
}

// fromElsewhere says what the alarms of other rooms leave at the pillow of a room that has none.
func (c *check) fromElsewhere(id site.RoomID) (say string, ok bool) {
	row := c.pillows(id)[0]
	if row.Margin == nil || row.Verdict == estimate.NotDetermined || row.Carries == "" {
		return "", false
	}
	return c.lang.Say("From %s about %s dBA arrive at the pillow with the doors shut; %s dBA are required (planning estimate, measure on site).",
		row.CarriesSay, c.number(*row.Level), c.number(*row.Required)), true
}

// sleepers judges what arrives at the pillows of rooms that have an alarm or a detector; the others are stopped as such.
func (c *check) sleepers() {
	for _, id := range c.roomIDs {
		r := c.Rooms[id]
		if !sleeps(r) || len(c.smokeIn(id)) == 0 {
			continue
		}
		for _, row := range c.pillows(id) {
			c.pillow(id, row)
			c.tone(id, row)
		}
	}
}

func (c *check) pillow(id site.RoomID, row estimate.SoundRow) {
	where := c.roomTitle(id)
	if row.Bed != "" {
		where = c.lang.Say("%s, bed %s", where, row.Bed)
	}
	if row.Measured != nil && row.Required != nil {
		if *row.Measured < *row.Required {
			c.add("sound.pillow", report{
				where: c.about(where, c.lang.Say("sound at the pillow")), places: []Place{roomAt(id)}, at: c.roomSpot(id), cause: []any{row.Bed, *row.Measured, *row.Required},
				say: c.lang.Say("Measured: %s dBA with the doors shut; %s are required.", c.number(*row.Measured), row.RequiredSay),
				do:  c.lang.Say("Have an alarm of the group added in the room by the electrician, and measure again."),
			})
		}
		return
	}
	if row.Margin == nil || row.Verdict == estimate.NotDetermined {
		c.lack("sound.pillow", words.Later("outline, storey and ambient noise of sleeping rooms, levels of sounders, and losses of what lies between"), roomAt(id))
		return
	}
	r := report{
		where: c.about(where, c.lang.Say("sound at the pillow")), places: []Place{roomAt(id)}, at: c.roomSpot(id), estimate: true,
		cause: []any{row.Bed, *row.Level, *row.Required},
	}
	from := row.CarriesSay
	if from == "" {
		from = c.lang.Say("no alarm")
	}
	figures := c.lang.Say("About %s dBA arrive with the doors shut, from %s; %s are required: %s dB, uncertain by %s dB either way (planning estimate, measure on site).",
		c.number(*row.Level), from, row.RequiredSay, signed(c, *row.Margin), c.number(row.Uncertainty))
	if row.OutSay != "" {
		figures = c.lang.Say("%s %s.", figures, words.Upper(row.OutSay))
	}
	switch row.Verdict {
	case estimate.TooLittle:
		r.say, r.do = figures, c.lang.Say("Have an alarm of the group added in the room by the electrician, or measure at the pillow with the doors shut.")
		c.add("sound.pillow", r)
	case estimate.Doubtful:
		r.say, r.do = figures, c.lang.Say("Measure at the pillow with the doors shut, and enter the reading.")
		c.add("sound.pillow.doubt", r)
	}
}

func signed(c *check, v float64) string {
	if v > 0 {
		return "+" + c.number(v)
	}
	return c.number(v)
}

// tone looks for people who sleep through a high tone.
func (c *check) tone(id site.RoomID, row estimate.SoundRow) {
	sleeper := c.Rooms[id].Beds[site.BedID(row.Bed)].Sleeper
	tone := c.sound().Tone(row.Carries)
	if sleeper == "" || tone < 1000 {
		return
	}
	c.add("sound.tone", report{
		where: c.about(c.lang.Say("%s, bed %s", c.roomTitle(id), row.Bed), c.lang.Say("tone")), places: []Place{roomAt(id)}, at: c.roomSpot(id), cause: []any{row.Bed, sleeper},
		say: c.lang.Say("The alarm that is loudest here sounds at %s Hz. At 75 dBA such a tone woke 57 of 100 people who hear badly, a tone of 520 Hz 92.", c.number(tone)),
		do:  c.lang.Say("Have a sounder of 520 Hz added, or a shaker under the pillow, and ask the sleeper."),
	})
}
