package estimate

import "proofbell/internal/words"

// Sum says how a hop comes to its margin, as a sum whose figures add up as they stand, without its end.
func (h Hop) Sum(lang *words.Language, to string) string {
	n := func(v float64) string { return lang.Number(v, -1) }
	say := n(h.Power) + " dBm"
	if gain := round1(h.Gains[0] + h.Gains[1]); gain != 0 {
		say += lang.Say(" + %s dB (antennas)", n(gain))
	}
	say += lang.Say(" - %s dB (%s m to %s)", n(h.Free), lang.Number(h.Distance, 1), to)
	for _, c := range h.Crossed {
		say += lang.Say(" - %s dB (%s)", n(c.DB), c.Name.In(lang))
	}
	if h.Fitted != 0 {
		say += lang.Say(" + %s dB (measured levels)", n(h.Fitted))
	}
	return say + lang.Say(" = %s dBm; the receiver needs %s dBm", n(h.Received), n(h.Sensitivity))
}

// Terms are the numbers of a hop, in the order in which they are added.
func (h Hop) Terms(lang *words.Language) []Term {
	typed := lang.Say("site file")
	terms := []Term{
		{lang.Say("transmit power"), h.Power, "dBm", "", typed},
		{lang.Say("antenna gain, transmitter"), h.Gains[0], "dBi", "", typed},
		{lang.Say("antenna gain, receiver"), h.Gains[1], "dBi", "", typed},
		{lang.Say("distance"), h.Distance, "m", "", lang.Say("plan")},
		{lang.Say("loss of the distance"), h.Free, "dB", h.Model.In(lang), h.Source.In(lang)},
	}
	for _, c := range h.Crossed {
		source := c.Source.In(lang)
		if c.Grade != "" && c.Grade != "own" {
			source += " (" + c.Grade + ")"
		}
		terms = append(terms, Term{c.Name.In(lang) + ", " + c.Where.In(lang), c.DB, "dB", "", source})
	}
	if h.Fitted != 0 {
		terms = append(terms, Term{lang.Say("added by measured levels"), h.Fitted, "dB", lang.Say("offset - (factor - 1) x walls, lower end of 95 %"), lang.Say("least squares on the levels measured on site")})
	}
	return append(terms,
		Term{lang.Say("received level"), h.Received, "dBm", lang.Say("power + gains - losses"), ""},
		Term{lang.Say("sensitivity of the receiver"), h.Sensitivity, "dBm", "", typed},
		Term{lang.Say("margin"), h.Margin, "dB", lang.Say("received - sensitivity"), ""},
	)
}
