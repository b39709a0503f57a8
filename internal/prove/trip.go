package prove

import (
	"slices"

	"proofbell/internal/words"
	"proofbell/site"
)

// trip is how one sort of device is tripped: the words of a step. The tables follow what instructions usually allow;
// the instructions of the device in hand always come first, and each step says so.
type trip struct {
	do       string
	methods  []Method
	restore  string
	cautions []string
	notes    []string
}

var instructions = words.Mark("The device's own instructions come first.")

// in says the words of a trip in a language.
func (t trip) in(l *words.Language) trip {
	say := func(list []string) []string {
		out := make([]string, len(list))
		for i, marked := range list {
			out[i] = l.Word(marked)
		}
		return out
	}
	t.do, t.restore, t.cautions, t.notes = l.Word(t.do), l.Word(t.restore), say(t.cautions), say(t.notes)
	t.methods = slices.Clone(t.methods)
	for i, m := range t.methods {
		t.methods[i].Name, t.methods[i].Say = l.Word(m.Name), l.Word(m.Say)
	}
	return t
}

func full(id, name, say string) Method { return Method{id, name, Full, say} }
func half(id, name, say string) Method { return Method{id, name, Half, say} }

// buttonSay is the limit of every test button; trade practice, and the reason for the half-filled stop.
var buttonSay = words.Mark("Proves sounder and link. Does not prove that smoke or gas gets in.")

// tripFor chooses the words for a terminal by what it senses, or by the zone's kind where the model does not say.
func tripFor(senses string, kind site.ZoneKind, m site.Model) trip {
	if senses == "" {
		senses = sensesOf(kind)
	}
	button := func(t trip) trip {
		if m.TestButton || m.SelfSounding {
			t.methods = append(t.methods, half("button", words.Mark("Its test button"), buttonSay))
		}
		return t
	}
	switch senses {
	case site.SensesSmoke:
		t := button(trip{
			do:       words.Mark("Blow one puff of test aerosol, or smoke made for testing, into the vents until it sounds."),
			methods:  []Method{full("aerosol", words.Mark("Test aerosol at the vents"), words.Mark("Proves smoke entry, sensor and link."))},
			restore:  words.Mark("Clear the chamber with clean air. After a reset it may need 2 min."),
			cautions: []string{instructions, words.Mark("One puff: residue blinds the chamber.")},
		})
		t.methods = append(t.methods, half("magnet", words.Mark("Test magnet"), buttonSay))
		return t
	case site.SensesHeat:
		return button(trip{
			do: words.Mark("Warm it with a hot-air tool made for testing, from the distance its instructions give, until it trips."),
			methods: []Method{
				full("hot-air", words.Mark("Hot air, resettable type"), words.Mark("Proves sensor and link.")),
				half("contact", words.Mark("Its contact joined by hand, fixed type"), words.Mark("Proves the link. A type that heat destroys can not be tested by heat.")),
			},
			restore:  words.Mark("Let it cool down."),
			cautions: []string{instructions, words.Mark("Never a flame. A type that does not reset is spoilt by heat.")},
		})
	case site.SensesCO, site.SensesGas:
		return button(trip{
			do:       words.Mark("Give test gas under the hood, in the strength and for the time its instructions say; where they do not allow gas, use the button."),
			methods:  []Method{full("gas", words.Mark("Test gas under a hood"), words.Mark("Proves sensor and link."))},
			restore:  words.Mark("Take the hood off and air the room."),
			cautions: []string{instructions, words.Mark("The gas is poisonous or burns: air the room, nobody else in it.")},
		})
	case site.SensesFirePush:
		return trip{
			do:       words.Mark("Operate the call point with its test key."),
			methods:  []Method{full("key", words.Mark("Test key"), words.Mark("Proves the call point and its link."))},
			restore:  words.Mark("Reset it with the key and put the cover back."),
			cautions: []string{instructions},
		}
	case site.SensesOpening:
		return trip{
			do:       words.Mark("Open 2 cm, then 5 cm, and note the gap at which it reports. Then close."),
			methods:  []Method{full("open", words.Mark("Opened by hand"), words.Mark("Proves contact, gap and link."))},
			restore:  words.Mark("Close it."),
			cautions: []string{words.Mark("A heavy leaf: check the gap again when wind loads it.")},
		}
	case site.SensesMotion:
		return trip{
			do:       words.Mark("Leave it in peace for 3 min. Then walk across its view, at about 30 cm/s, also at the edge."),
			methods:  []Method{full("walk", words.Mark("Walked across its view"), words.Mark("Proves view and link."))},
			restore:  words.Mark("Stand still or leave its view."),
			cautions: []string{words.Mark("Many motion detectors sleep 2 to 3 min after a trip: wait before a second try.")},
		}
	case site.SensesGlass:
		return trip{
			do:       words.Mark("Curtains drawn, sound the tester at the farthest pane."),
			methods:  []Method{full("tester", words.Mark("Glass-break tester at the farthest pane"), words.Mark("Proves hearing and link."))},
			restore:  words.Mark("Wait until it is quiet."),
			cautions: []string{words.Mark("Not a hammer."), instructions},
		}
	case site.SensesWater:
		return trip{
			do:       words.Mark("Lay a wet cloth over the contacts of the probe."),
			methods:  []Method{full("wet-cloth", words.Mark("Wet cloth on the contacts"), words.Mark("Proves probe and link."))},
			restore:  words.Mark("Dry the contacts well."),
			cautions: []string{words.Mark("Keep water away from mains parts.")},
		}
	case site.SensesCold:
		return trip{
			do:       words.Mark("Hold an ice pack to the sensor until it reports."),
			methods:  []Method{full("ice", words.Mark("Ice pack at the sensor"), words.Mark("Proves sensor and link."))},
			restore:  words.Mark("Take the ice pack away and warm the sensor with the hand."),
			cautions: []string{words.Mark("A threshold moved for the test goes on the put-back list.")},
		}
	case site.SensesPanic:
		return trip{
			do:       words.Mark("Agree a word with the station. Press the button once, at the farthest place where it is used."),
			methods:  []Method{full("press", words.Mark("Pressed where it is used"), words.Mark("Proves button and link."))},
			restore:  words.Mark("Release it; reset it with its key where it latches."),
			cautions: []string{words.Mark("Press only when panic is on test: real help would come.")},
		}
	case site.SensesKey:
		return trip{
			do:       words.Mark("Turn the key to arm, wait for the report, turn it back to disarm."),
			methods:  []Method{full("key", words.Mark("Key turned both ways"), words.Mark("Proves switch and link."))},
			restore:  words.Mark("Leave the area off."),
			cautions: []string{words.Mark("Everyone out of the area's way before it arms.")},
		}
	case site.SensesContact:
		return trip{
			do:       words.Mark("Have the equipment behind the contact change its state, by its own test."),
			methods:  []Method{full("source", words.Mark("By the equipment's own test"), words.Mark("Proves equipment, contact and link.")), half("contact", words.Mark("Contact joined by hand"), words.Mark("Proves the link only."))},
			restore:  words.Mark("Bring the equipment back to normal."),
			cautions: []string{words.Mark("Mains parts are for a licensed electrician.")},
		}
	}
	return trip{
		do:       words.Mark("Trip the device as its instructions say."),
		methods:  []Method{full("cause", words.Mark("By its real cause"), words.Mark("Proves sensor and link.")), half("button", words.Mark("Its test button"), buttonSay)},
		restore:  words.Mark("Bring it back to normal."),
		cautions: []string{instructions},
	}
}

// sensesOf is what a device of this kind of zone usually senses.
func sensesOf(kind site.ZoneKind) string {
	switch kind {
	case site.Smoke, site.SmokeVerified:
		return site.SensesSmoke
	case site.Heat:
		return site.SensesHeat
	case site.CallPoint:
		return site.SensesFirePush
	case site.CO:
		return site.SensesCO
	case site.Gas:
		return site.SensesGas
	case site.Entry1, site.Entry2, site.Perimeter:
		return site.SensesOpening
	case site.Inside:
		return site.SensesMotion
	case site.PanicLoud, site.PanicQuiet, site.Medical:
		return site.SensesPanic
	case site.Water:
		return site.SensesWater
	case site.Cold:
		return site.SensesCold
	case site.Keyswitch:
		return site.SensesKey
	case site.Trouble:
		return site.SensesContact
	}
	return ""
}

// headTrip is how the test button of a self-contained alarm is pressed.
func headTrip(l *words.Language, h site.Head, id site.HeadID, group string, followed bool) trip {
	t := trip{
		methods: []Method{half("button", words.Mark("Its test button"), buttonSay)},
		restore: words.Mark("Release the button and wait until all is quiet. Do not use hush: it keeps the panel's zone from restoring."),
		cautions: []string{
			words.Mark("All alarms of the group sound: ear protection, warn people first."),
			words.Mark("Do not open or remove it: mains parts are for a licensed electrician."),
			words.Mark("A played recording is no proof."),
		},
	}
	name := string(id)
	switch {
	case h.Group == "":
		t.do = l.Say("Press and hold the test button of %s until it sounds.", name)
		t.cautions = t.cautions[1:]
	case followed:
		t.do = l.Say("Press and hold the test button of %[1]s for 20 to 60 s, until the panel trips. Someone confirms that %[1]s and the others of %[2]s sound.", name, group)
	default:
		t.do = l.Say("Press and hold the test button of %[1]s until it sounds. Someone confirms that %[1]s and the others of %[2]s sound.", name, group)
	}
	switch h.Kind {
	case "smoke", "smoke-co":
		t.methods = append(t.methods, full("aerosol", words.Mark("Test aerosol at its vents, where its instructions allow"), words.Mark("Proves smoke entry, sounder and link.")))
	case "co":
		t.methods = append(t.methods, full("gas", words.Mark("Test gas, where its instructions allow"), words.Mark("Proves sensor, sounder and link.")))
		t.notes = append(t.notes, words.Mark("The CO pattern may need two full groups of pulses before the bridge decides."))
	}
	return t.in(l)
}
