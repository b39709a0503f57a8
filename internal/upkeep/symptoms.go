package upkeep

import (
	"slices"

	"proofbell/internal/words"
	"proofbell/site"
)

// Symptom is one row of the table of symptoms: what is said at the telephone, what it most likely is, what to look at.
type Symptom struct {
	ID     string   `json:"id"`
	Say    string   `json:"say"`
	Causes []string `json:"causes"` // likeliest first
	Checks []string `json:"checks"` // first ones
}

// row is a symptom with the devices it fits; nil classes fit all.
type row struct {
	Symptom
	classes []string
	link    string // radio, wired or "" both
}

// symptoms are trade practice: orders of likelihood, not figures.
var symptoms = []row{
	{Symptom{
		"lost", words.Mark("Lost now and then"),
		[]string{words.Mark("Margin under 15 dB"), words.Mark("Metal door or vehicle at night"), words.Mark("Interference"), words.Mark("Battery weak in the cold"), words.Mark("Loss window shorter than three periods")},
		[]string{words.Mark("At what times of day?"), words.Mark("Level now and at the start"), words.Mark("Were neighbours lost in the same minute? Then the receiver, its supply or aerial.")},
	}, nil, "radio"},
	{Symptom{
		"tamper-stays", words.Mark("Tamper does not clear"),
		[]string{words.Mark("Cover spring"), words.Mark("Base not seated"), words.Mark("Wall screw missing"), words.Mark("Input set to the wrong kind of contact"), words.Mark("Panel waits for a person to clear it"), words.Mark("Two zones on one identity")},
		[]string{words.Mark("Press the cover and watch the panel"), words.Mark("Read the raw state at the panel"), words.Mark("Clear it from the keypad")},
	}, nil, ""},
	{Symptom{
		"swinging", words.Mark("Trips again and again"),
		[]string{words.Mark("Magnet loose"), words.Mark("Wind"), words.Mark("Door warped"), words.Mark("Water in a joint"), words.Mark("Rodent")},
		[]string{words.Mark("Count per hour, against the weather"), words.Mark("Gap between magnet and contact")},
	}, []string{"contact"}, ""},
	{Symptom{
		"smoke-false", words.Mark("Alarm without smoke"),
		[]string{words.Mark("Cooking or steam"), words.Mark("Dust, or building work"), words.Mark("Insects in the chamber"), words.Mark("Draught from outside"), words.Mark("Near the end of its life")},
		[]string{words.Mark("What happened in the room in those minutes?"), words.Mark("Look into the chamber"), words.Mark("Made date")},
	}, []string{"smoke"}, ""},
	{Symptom{
		"listener-false", words.Mark("Listener alarms by mistake"),
		[]string{words.Mark("Another pulsed sound"), words.Mark("Tests with the hush button"), words.Mark("Television"), words.Mark("Alarms tested by cleaners")},
		[]string{words.Mark("Time of the sound against what happened in the house")},
	}, []string{"bridge"}, ""},
	{Symptom{
		"listener-silent", words.Mark("Listener silent on test"),
		[]string{words.Mark("Alarm beside it dead or hushed"), words.Mark("A door was put between"), words.Mark("Its pattern is not three pulses"), words.Mark("Battery saver"), words.Mark("Test too short")},
		[]string{words.Mark("On test, with ear protection: stand beside it and hold the test button for 60 s")},
	}, []string{"bridge"}, ""},
	{Symptom{
		"at-arming", words.Mark("False alarm when arming"),
		[]string{words.Mark("Exit delay too short"), words.Mark("Inside door open"), words.Mark("Pet"), words.Mark("Heating starts")},
		[]string{words.Mark("Codes 457 and 459 in the history"), words.Mark("Minutes after arming")},
	}, []string{"contact", "motion", "glass-break"}, ""},
	{Symptom{
		"wired-reading", words.Mark("Wired input reads wrong"),
		[]string{words.Mark("Resistor at the panel instead of at the end"), words.Mark("Wrong value"), words.Mark("Water makes a path beside it"), words.Mark("Contact wired double")},
		[]string{words.Mark("On test, panel without power: measure with both ends lifted: open, normal, short")},
	}, nil, "wired"},
	{Symptom{
		"battery-storm", words.Mark("Many low batteries at once"),
		[]string{words.Mark("First cold night"), words.Mark("Batch of one age"), words.Mark("Receiver repeats old reports after a restart")},
		[]string{words.Mark("Temperatures of the night"), words.Mark("Dates of the batteries")},
	}, nil, "radio"},
	{Symptom{
		"not-at-station", words.Mark("Signal does not reach the station"),
		[]string{words.Mark("Account or format wrong"), words.Mark("Path down"), words.Mark("Event switched off"), words.Mark("Filter for tests"), words.Mark("Station not told of the new event")},
		[]string{words.Mark("Does the panel's own history say sent and acknowledged?")},
	}, nil, ""},
	{Symptom{
		"wrong-event", words.Mark("Right signal, wrong place or event"),
		[]string{words.Mark("Digits of the account swapped"), words.Mark("Default account left in the panel"), words.Mark("Code edited by hand"), words.Mark("Kind changed after the code")},
		[]string{words.Mark("A forced test signal before the first trip"), words.Mark("Schedule against history")},
	}, nil, ""},
	{Symptom{
		"no-restore", words.Mark("Restore missing"),
		[]string{words.Mark("Reports of restores switched off"), words.Mark("Latching head not reset"), words.Mark("Hush")},
		[]string{words.Mark("Wait, reset the panel, compare")},
	}, nil, ""},
	{Symptom{
		"mains-cut", words.Mark("Alarm at every power cut"),
		[]string{words.Mark("Contact module drops out when the mains is lost")},
		[]string{words.Mark("Electrician: bench test of the module")},
	}, []string{"contact-module"}, ""},
}

// Symptoms are the symptoms that fit a device, in the reader's language; all of them for a device that is not known.
func Symptoms(s *site.Site, device site.DeviceID, lang *words.Language) []Symptom {
	m, known := s.ModelOf(device)
	out := []Symptom{}
	for _, r := range symptoms {
		fits := (r.classes == nil || slices.Contains(r.classes, m.Class)) && (r.link == "" || m.Link == "" || r.link == m.Link)
		if known && !fits {
			continue
		}
		one := Symptom{ID: r.ID, Say: lang.Say(r.Say), Causes: []string{}, Checks: []string{}}
		for _, c := range r.Causes {
			one.Causes = append(one.Causes, lang.Say(c))
		}
		for _, c := range r.Checks {
			one.Checks = append(one.Checks, lang.Say(c))
		}
		out = append(out, one)
	}
	return out
}
