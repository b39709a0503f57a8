package prove

import "proofbell/site"

// trip is how one sort of device is tripped: the words of a step. The tables follow what instructions usually allow;
// the instructions of the device in hand always come first, and each step says so.
type trip struct {
	do       string
	methods  []Method
	restore  string
	cautions []string
	notes    []string
}

const instructions = "The device's own instructions come first."

func full(id, name, say string) Method { return Method{id, name, Full, say} }
func half(id, name, say string) Method { return Method{id, name, Half, say} }

// buttonSay is the limit of every test button; trade practice, and the reason for the half-filled stop.
const buttonSay = "Proves sounder and link. Does not prove that smoke or gas gets in."

// tripFor chooses the words for a terminal by what it senses, or by the zone's kind where the model does not say.
func tripFor(senses string, kind site.ZoneKind, m site.Model) trip {
	if senses == "" {
		senses = sensesOf(kind)
	}
	button := func(t trip) trip {
		if m.TestButton || m.SelfSounding {
			t.methods = append(t.methods, half("button", "Its test button", buttonSay))
		}
		return t
	}
	switch senses {
	case site.SensesSmoke:
		t := button(trip{
			do:       "Blow one puff of test aerosol, or smoke made for testing, into the vents until it sounds.",
			methods:  []Method{full("aerosol", "Test aerosol at the vents", "Proves smoke entry, sensor and link.")},
			restore:  "Clear the chamber with clean air. After a reset it may need 2 min.",
			cautions: []string{instructions, "One puff: residue blinds the chamber."},
		})
		t.methods = append(t.methods, half("magnet", "Test magnet", buttonSay))
		return t
	case site.SensesHeat:
		return button(trip{
			do: "Warm it with a hot-air tool made for testing, from the distance its instructions give, until it trips.",
			methods: []Method{
				full("hot-air", "Hot air, resettable type", "Proves sensor and link."),
				half("contact", "Its contact joined by hand, fixed type", "Proves the link. A type that heat destroys can not be tested by heat."),
			},
			restore:  "Let it cool down.",
			cautions: []string{instructions, "Never a flame. A type that does not reset is spoilt by heat."},
		})
	case site.SensesCO, site.SensesGas:
		return button(trip{
			do:       "Give test gas under the hood, in the strength and for the time its instructions say; where they do not allow gas, use the button.",
			methods:  []Method{full("gas", "Test gas under a hood", "Proves sensor and link.")},
			restore:  "Take the hood off and air the room.",
			cautions: []string{instructions, "The gas is poisonous or burns: air the room, nobody else in it."},
		})
	case site.SensesFirePush:
		return trip{
			do:       "Operate the call point with its test key.",
			methods:  []Method{full("key", "Test key", "Proves the call point and its link.")},
			restore:  "Reset it with the key and put the cover back.",
			cautions: []string{instructions},
		}
	case site.SensesOpening:
		return trip{
			do:       "Open 2 cm, then 5 cm, and note the gap at which it reports. Then close.",
			methods:  []Method{full("open", "Opened by hand", "Proves contact, gap and link.")},
			restore:  "Close it.",
			cautions: []string{"A heavy leaf: check the gap again when wind loads it."},
		}
	case site.SensesMotion:
		return trip{
			do:       "Leave it in peace for 3 min. Then walk across its view, at about 30 cm/s, also at the edge.",
			methods:  []Method{full("walk", "Walked across its view", "Proves view and link.")},
			restore:  "Stand still or leave its view.",
			cautions: []string{"Many motion detectors sleep 2 to 3 min after a trip: wait before a second try."},
		}
	case site.SensesGlass:
		return trip{
			do:       "Curtains drawn, sound the tester at the farthest pane.",
			methods:  []Method{full("tester", "Glass-break tester at the farthest pane", "Proves hearing and link.")},
			restore:  "Wait until it is quiet.",
			cautions: []string{"Not a hammer.", instructions},
		}
	case site.SensesWater:
		return trip{
			do:       "Lay a wet cloth over the contacts of the probe.",
			methods:  []Method{full("wet-cloth", "Wet cloth on the contacts", "Proves probe and link.")},
			restore:  "Dry the contacts well.",
			cautions: []string{"Keep water away from mains parts."},
		}
	case site.SensesCold:
		return trip{
			do:       "Hold an ice pack to the sensor until it reports.",
			methods:  []Method{full("ice", "Ice pack at the sensor", "Proves sensor and link.")},
			restore:  "Take the ice pack away and warm the sensor with the hand.",
			cautions: []string{"A threshold moved for the test goes on the put-back list."},
		}
	case site.SensesPanic:
		return trip{
			do:       "Agree a word with the station. Press the button once, at the farthest place where it is used.",
			methods:  []Method{full("press", "Pressed where it is used", "Proves button and link.")},
			restore:  "Release it; reset it with its key where it latches.",
			cautions: []string{"Press only when panic is on test: real help would come."},
		}
	case site.SensesKey:
		return trip{
			do:       "Turn the key to arm, wait for the report, turn it back to disarm.",
			methods:  []Method{full("key", "Key turned both ways", "Proves switch and link.")},
			restore:  "Leave the area off.",
			cautions: []string{"Everyone out of the area's way before it arms."},
		}
	case site.SensesContact:
		return trip{
			do:       "Have the equipment behind the contact change its state, by its own test.",
			methods:  []Method{full("source", "By the equipment's own test", "Proves equipment, contact and link."), half("contact", "Contact joined by hand", "Proves the link only.")},
			restore:  "Bring the equipment back to normal.",
			cautions: []string{"Mains parts are for a licensed electrician."},
		}
	}
	return trip{
		do:       "Trip the device as its instructions say.",
		methods:  []Method{full("cause", "By its real cause", "Proves sensor and link."), half("button", "Its test button", buttonSay)},
		restore:  "Bring it back to normal.",
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
func headTrip(h site.Head, id site.HeadID, group string, followed bool) trip {
	t := trip{
		methods: []Method{half("button", "Its test button", buttonSay)},
		restore: "Release the button and wait until all is quiet. Do not use hush: it keeps the panel's zone from restoring.",
		cautions: []string{
			"All alarms of the group sound: ear protection, warn people first.",
			"Do not open or remove it: mains parts are for a licensed electrician.",
			"A played recording is no proof.",
		},
	}
	name := string(id)
	switch {
	case h.Group == "":
		t.do = "Press and hold the test button of " + name + " until it sounds."
		t.cautions = t.cautions[1:]
	case followed:
		t.do = "Press and hold the test button of " + name + " for 20 to 60 s, until the panel trips. Someone confirms that " + name + " and the others of " + group + " sound."
	default:
		t.do = "Press and hold the test button of " + name + " until it sounds. Someone confirms that " + name + " and the others of " + group + " sound."
	}
	switch h.Kind {
	case "smoke", "smoke-co":
		t.methods = append(t.methods, full("aerosol", "Test aerosol at its vents, where its instructions allow", "Proves smoke entry, sounder and link."))
	case "co":
		t.methods = append(t.methods, full("gas", "Test gas, where its instructions allow", "Proves sensor, sounder and link."))
		t.notes = append(t.notes, "The CO pattern may need two full groups of pulses before the bridge decides.")
	}
	return t
}
