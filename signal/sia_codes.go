package signal

import "strings"

// The zone families of SIA event codes (SIA DC-03): first letter the family, second what happened.
var siaFamilies = []struct {
	letter string
	words  string
	family Family
}{
	{"F", "fire", Fire},
	{"K", "heat", Fire},
	{"G", "gas", Gas},
	{"S", "sprinkler", Fire},
	{"W", "water", Water},
	{"Z", "freeze", Climate},
	{"B", "burglary", Burglary},
	{"H", "hold-up", Panic},
	{"P", "panic", Panic},
	{"M", "medical", Medical},
	{"Q", "emergency", Medical},
	{"U", "untyped point", Technical},
}

var siaSecond = []struct {
	letter     string
	words      string
	kind       Kind
	restoredBy string // second letters
}{
	{"A", "alarm", KindAlarm, "H R"},
	{"H", "alarm restored", KindRestore, ""},
	{"T", "trouble", KindTrouble, "J R"},
	{"J", "trouble restored", KindTroubleRestore, ""},
	{"R", "restored", KindRestore, ""},
	{"B", "bypass", KindBypass, "U"},
	{"U", "bypass ended", KindBypassRestore, ""},
	{"S", "supervisory", KindSupervisory, "R"},
}

// All other codes. Words are ours; a code of two lists with two meanings says so. The end
// of "missing" conditions differs between senders (unconfirmed).
var siaRows = []Meaning{
	{Code: "FC", Words: "fire alarm cancelled", Kind: KindCancel, Family: Fire, NumberIs: Zone},
	{Code: "FG", Words: "fire alarm not verified", Kind: KindLog, Family: Fire, NumberIs: Zone},
	{Code: "FI", Words: "fire test began", Kind: KindTestBegin, Family: Tests, NumberIs: Area, restoredBy: []string{"FK"}},
	{Code: "FK", Words: "fire test ended", Kind: KindTestEnd, Family: Tests, NumberIs: Area},
	{Code: "FL", Words: "fire alarm silenced", Kind: KindLog, Family: Fire, NumberIs: Zone},
	{Code: "FM", Words: "fire alarm confirmed by a second point", Kind: KindAlarm, Family: Fire, NumberIs: Zone, restoredBy: []string{"FH", "FR"}},
	{Code: "FQ", Words: "fire supervisory trouble restored", Kind: KindTroubleRestore, Family: Fire, NumberIs: Zone},
	{Code: "FS", Words: "fire supervisory", Kind: KindSupervisory, Family: Fire, NumberIs: Zone, restoredBy: []string{"FV", "FR"}},
	{Code: "FV", Words: "fire supervisory restored", Kind: KindSupervisoryRestore, Family: Fire, NumberIs: Zone},
	{Code: "FW", Words: "fire supervisory trouble", Kind: KindTrouble, Family: Fire, NumberIs: Zone, restoredBy: []string{"FQ"}},
	{Code: "FX", Words: "fire point tested", Kind: KindWalkTested, Family: Tests, NumberIs: Zone},
	{Code: "FY", Words: "fire point missing", Kind: KindSupervisionLost, Family: Fire, NumberIs: Zone, restoredBy: []string{"FJ", "FR"}},
	{Code: "FZ", Words: "fire supervisory point missing", Kind: KindSupervisionLost, Family: Fire, NumberIs: Zone, restoredBy: []string{"FJ", "FV", "FR"}},
	{Code: "AS", Words: "analogue detector needs service", Kind: KindMaintenance, Family: Fire, NumberIs: Zone, restoredBy: []string{"AN"}},
	{Code: "AN", Words: "analogue detector service done", Kind: KindMaintenanceRestore, Family: Fire, NumberIs: Zone},
	{Code: "GX", Words: "gas point tested", Kind: KindWalkTested, Family: Tests, NumberIs: Zone},

	{Code: "BC", Words: "burglary alarm cancelled", Kind: KindCancel, Family: Burglary, NumberIs: User},
	{Code: "BD", Words: "burglary swinger trouble", Kind: KindTrouble, Family: Burglary, NumberIs: Zone, restoredBy: []string{"BE"}},
	{Code: "BE", Words: "burglary swinger trouble restored", Kind: KindTroubleRestore, Family: Burglary, NumberIs: Zone},
	{Code: "BG", Words: "burglary alarm not verified", Kind: KindLog, Family: Burglary, NumberIs: Zone},
	{Code: "BM", Words: "burglary alarm confirmed by a second point", Kind: KindAlarm, Family: Burglary, NumberIs: Zone, restoredBy: []string{"BH", "BR"}},
	{Code: "BV", Words: "burglary alarm verified", Kind: KindAlarm, Family: Burglary, NumberIs: Area, restoredBy: []string{"BH", "BR"}},
	{Code: "BX", Words: "burglary point tested", Kind: KindWalkTested, Family: Tests, NumberIs: Zone},
	{Code: "BZ", Words: "burglary point missing", Kind: KindSupervisionLost, Family: Burglary, NumberIs: Zone, restoredBy: []string{"BJ", "BR"}},
	{Code: "EA", Words: "exit alarm", Kind: KindAlarm, Family: Burglary, NumberIs: Zone},
	{Code: "EE", Words: "exit error", Kind: KindLog, Family: People, NumberIs: User},
	{Code: "EZ", Words: "point missing at exit", Kind: KindSupervisionLost, Family: Technical, NumberIs: Zone},

	{Code: "TA", Words: "tamper", Kind: KindTamper, Family: System, NumberIs: Zone, restoredBy: []string{"TR", "TH"}},
	{Code: "TH", Words: "tamper restored", Kind: KindTamperRestore, Family: System, NumberIs: Zone},
	{Code: "TR", Words: "tamper restored", Kind: KindTamperRestore, Family: System, NumberIs: Zone},
	{Code: "TT", Words: "tamper trouble", Kind: KindTamper, Family: System, NumberIs: Zone, restoredBy: []string{"TJ", "TR"}},
	{Code: "TJ", Words: "tamper trouble restored", Kind: KindTamperRestore, Family: System, NumberIs: Zone},
	{Code: "TB", Words: "tamper bypass", Kind: KindBypass, Family: System, NumberIs: Zone, restoredBy: []string{"TU"}},
	{Code: "TU", Words: "tamper bypass ended", Kind: KindBypassRestore, Family: System, NumberIs: Zone},

	{Code: "XT", Words: "radio battery low", Kind: KindBatteryLow, Family: System, NumberIs: Zone, restoredBy: []string{"XR"}},
	{Code: "XR", Words: "radio battery restored", Kind: KindBatteryRestore, Family: System, NumberIs: Zone},
	{Code: "XL", Words: "weak radio signal", Kind: KindMaintenance, Family: System, NumberIs: Zone},
	{Code: "XQ", Words: "radio interference", Kind: KindSystem, Family: System, NumberIs: NoNumber, restoredBy: []string{"XH"}},
	{Code: "XH", Words: "radio interference over", Kind: KindSystemRestore, Family: System, NumberIs: NoNumber},
	{Code: "XS", Words: "radio receiver tamper", Kind: KindTamper, Family: System, NumberIs: NoNumber, restoredBy: []string{"XJ"}},
	{Code: "XJ", Words: "radio receiver tamper restored", Kind: KindTamperRestore, Family: System, NumberIs: NoNumber},
	{Code: "XE", Words: "extra point", Kind: KindLog, Family: System, NumberIs: Zone},
	{Code: "XF", Words: "extra radio point", Kind: KindLog, Family: System, NumberIs: Zone},
	{Code: "XI", Words: "sensor reset", Kind: KindLog, Family: System, NumberIs: Zone},
	{Code: "XM", Words: "point missing, confirmed by a second", Kind: KindSupervisionLost, Family: Technical, NumberIs: Zone},
	{Code: "XW", Words: "forced point", Kind: KindLog, Family: Burglary, NumberIs: Zone},
	{Code: "UY", Words: "point missing while disarmed", Kind: KindSupervisionLost, Family: Technical, NumberIs: Zone, restoredBy: []string{"UJ", "UR"}},
	{Code: "UZ", Words: "point missing while armed", Kind: KindSupervisionLost, Family: Technical, NumberIs: Zone, restoredBy: []string{"UJ", "UR"}},
	{Code: "CM", Words: "point missing after closing", Kind: KindSupervisionLost, Family: Technical, NumberIs: Zone},

	{Code: "AT", Words: "mains lost", Kind: KindMainsLost, Family: System, NumberIs: NoNumber, restoredBy: []string{"AR"}},
	{Code: "AR", Words: "mains back", Kind: KindMainsRestore, Family: System, NumberIs: NoNumber},
	{Code: "YT", Words: "system battery low", Kind: KindPower, Family: System, NumberIs: NoNumber, restoredBy: []string{"YR"}},
	{Code: "YR", Words: "system battery restored", Kind: KindPowerRestore, Family: System, NumberIs: NoNumber},
	{Code: "YM", Words: "system battery missing", Kind: KindPower, Family: System, NumberIs: NoNumber, restoredBy: []string{"YR"}},
	{Code: "YP", Words: "supply trouble", Kind: KindPower, Family: System, NumberIs: NoNumber, restoredBy: []string{"YQ"}},
	{Code: "YQ", Words: "supply restored", Kind: KindPowerRestore, Family: System, NumberIs: NoNumber},
	{Code: "YI", Words: "supply overcurrent", Kind: KindPower, Family: System, NumberIs: NoNumber, restoredBy: []string{"YJ"}},
	{Code: "YJ", Words: "supply overcurrent over", Kind: KindPowerRestore, Family: System, NumberIs: NoNumber},
	{Code: "RR", Words: "power up", Kind: KindLog, Family: System, NumberIs: NoNumber},

	{Code: "YF", Words: "parameter sum wrong", Kind: KindSystem, Family: System, NumberIs: NoNumber},
	{Code: "YG", Words: "parameters changed", Kind: KindLog, Family: System, NumberIs: NoNumber},
	{Code: "YU", Words: "diagnostic", Kind: KindSystem, Family: System, NumberIs: NoNumber},
	{Code: "YW", Words: "watchdog reset", Kind: KindSystem, Family: System, NumberIs: NoNumber},
	{Code: "YX", Words: "service required", Kind: KindSystem, Family: System, NumberIs: NoNumber, restoredBy: []string{"YZ"}},
	{Code: "YZ", Words: "service done", Kind: KindSystemRestore, Family: System, NumberIs: NoNumber},
	{Code: "YA", Words: "sounder fault", Kind: KindSystem, Family: System, NumberIs: NoNumber, restoredBy: []string{"YH"}},
	{Code: "YH", Words: "sounder restored", Kind: KindSystemRestore, Family: System, NumberIs: NoNumber},
	{Code: "OU", Words: "output trouble", Kind: KindSystem, Family: System, NumberIs: NoNumber, restoredBy: []string{"OV"}},
	{Code: "OV", Words: "output restored", Kind: KindSystemRestore, Family: System, NumberIs: NoNumber},
	{Code: "IA", Words: "equipment failed", Kind: KindSystem, Family: System, NumberIs: NoNumber, restoredBy: []string{"IR"}},
	{Code: "IR", Words: "equipment restored", Kind: KindSystemRestore, Family: System, NumberIs: NoNumber},
	{Code: "ET", Words: "expander trouble", Kind: KindSystem, Family: System, NumberIs: Expander, restoredBy: []string{"ER"}},
	{Code: "ER", Words: "expander restored", Kind: KindSystemRestore, Family: System, NumberIs: Expander},
	{Code: "EM", Words: "expander missing", Kind: KindSupervisionLost, Family: System, NumberIs: Expander, restoredBy: []string{"EN"}},
	{Code: "EN", Words: "expander back", Kind: KindSupervisionRestore, Family: System, NumberIs: Expander},
	{Code: "ES", Words: "expander tamper", Kind: KindTamper, Family: System, NumberIs: Expander, restoredBy: []string{"EJ"}},
	{Code: "EJ", Words: "expander tamper restored", Kind: KindTamperRestore, Family: System, NumberIs: Expander},

	{Code: "YC", Words: "communication failed", Kind: KindCommunication, Family: Path, NumberIs: NoNumber, restoredBy: []string{"YK"}},
	{Code: "YK", Words: "communication restored", Kind: KindCommunicationRestore, Family: Path, NumberIs: NoNumber},
	{Code: "YS", Words: "communication trouble", Kind: KindCommunication, Family: Path, NumberIs: NoNumber, restoredBy: []string{"YK"}},
	{Code: "LT", Words: "line trouble", Kind: KindCommunication, Family: Path, NumberIs: Line, restoredBy: []string{"LR"}},
	{Code: "LR", Words: "line restored", Kind: KindCommunicationRestore, Family: Path, NumberIs: Line},
	{Code: "NT", Words: "network failed", Kind: KindCommunication, Family: Path, NumberIs: NoNumber, restoredBy: []string{"NR"}},
	{Code: "NR", Words: "network restored", Kind: KindCommunicationRestore, Family: Path, NumberIs: NoNumber},
	{Code: "NC", Words: "network condition", Kind: KindLog, Family: Path, NumberIs: NoNumber},
	{Code: "RT", Words: "data lost", Kind: KindCommunication, Family: Path, NumberIs: NoNumber},

	{Code: "RP", Words: "automatic test", Kind: KindTest, Family: Tests, NumberIs: NoNumber},
	{Code: "RX", Words: "manual test", Kind: KindTest, Family: Tests, NumberIs: User},
	{Code: "RY", Words: "test while off normal", Kind: KindTest, Family: Tests, NumberIs: NoNumber},
	{Code: "TX", Words: "test, not specified", Kind: KindTest, Family: Tests, NumberIs: NoNumber},
	{Code: "TS", Words: "test began, or communicator put on test", Kind: KindTestBegin, Family: Tests, NumberIs: NoNumber, restoredBy: []string{"TE"}},
	{Code: "TE", Words: "test ended, or communicator back", Kind: KindTestEnd, Family: Tests, NumberIs: NoNumber},
	{Code: "TP", Words: "point tested", Kind: KindWalkTested, Family: Tests, NumberIs: Zone},
	{Code: "TC", Words: "all points tested", Kind: KindTest, Family: Tests, NumberIs: NoNumber},
	{Code: "XX", Words: "expected test did not come", Kind: KindCommunication, Family: Path, NumberIs: NoNumber},

	{Code: "LB", Words: "local programming began", Kind: KindProgramming, Family: System, NumberIs: NoNumber, restoredBy: []string{"LX"}},
	{Code: "LX", Words: "local programming ended", Kind: KindProgrammingEnd, Family: System, NumberIs: NoNumber},
	{Code: "LS", Words: "local programming succeeded", Kind: KindLog, Family: System, NumberIs: NoNumber},
	{Code: "LU", Words: "local programming failed", Kind: KindLog, Family: System, NumberIs: NoNumber},
	{Code: "LD", Words: "local programming denied", Kind: KindLog, Family: System, NumberIs: NoNumber},
	{Code: "RB", Words: "remote programming began", Kind: KindProgramming, Family: System, NumberIs: NoNumber, restoredBy: []string{"RS", "RU"}},
	{Code: "RS", Words: "remote programming succeeded", Kind: KindProgrammingEnd, Family: System, NumberIs: NoNumber},
	{Code: "RU", Words: "remote programming failed", Kind: KindProgrammingEnd, Family: System, NumberIs: NoNumber},
	{Code: "RD", Words: "remote programming denied", Kind: KindLog, Family: System, NumberIs: NoNumber},
	{Code: "RN", Words: "remote reset", Kind: KindLog, Family: System, NumberIs: NoNumber},

	{Code: "OP", Words: "opened", Kind: KindOpen, Family: People, NumberIs: User, restoredBy: []string{"CL"}},
	{Code: "CL", Words: "closed", Kind: KindClose, Family: People, NumberIs: User},
	{Code: "OA", Words: "opened automatically", Kind: KindOpen, Family: People, NumberIs: Area, restoredBy: []string{"CA"}},
	{Code: "CA", Words: "closed automatically", Kind: KindClose, Family: People, NumberIs: Area},
	{Code: "OG", Words: "area opened", Kind: KindOpen, Family: People, NumberIs: Area, restoredBy: []string{"CG"}},
	{Code: "CG", Words: "area closed", Kind: KindClose, Family: People, NumberIs: Area},
	{Code: "OQ", Words: "opened remotely", Kind: KindOpen, Family: People, NumberIs: User, restoredBy: []string{"CQ"}},
	{Code: "CQ", Words: "closed remotely", Kind: KindClose, Family: People, NumberIs: User},
	{Code: "OS", Words: "opened by key switch", Kind: KindOpen, Family: People, NumberIs: Zone, restoredBy: []string{"CS"}},
	{Code: "CS", Words: "closed by key switch", Kind: KindClose, Family: People, NumberIs: Zone},
	{Code: "OR", Words: "disarmed from alarm", Kind: KindOpen, Family: People, NumberIs: User},
	{Code: "OC", Words: "cancelled by user", Kind: KindCancel, Family: People, NumberIs: User},
	{Code: "OJ", Words: "late opening", Kind: KindOpen, Family: People, NumberIs: User},
	{Code: "OK", Words: "early opening", Kind: KindOpen, Family: People, NumberIs: User},
	{Code: "CJ", Words: "late closing", Kind: KindClose, Family: People, NumberIs: User},
	{Code: "CK", Words: "early closing", Kind: KindClose, Family: People, NumberIs: User},
	{Code: "CF", Words: "forced closing", Kind: KindClose, Family: People, NumberIs: User},
	{Code: "CE", Words: "closing put off", Kind: KindLog, Family: People, NumberIs: User},
	{Code: "CI", Words: "failed to close", Kind: KindLog, Family: People, NumberIs: Area},
	{Code: "OI", Words: "failed to open", Kind: KindLog, Family: People, NumberIs: Area},
	{Code: "CP", Words: "closed automatically by user's program", Kind: KindClose, Family: People, NumberIs: User},
	{Code: "CR", Words: "recent closing", Kind: KindLog, Family: People, NumberIs: User},
	{Code: "CW", Words: "forced points follow", Kind: KindLog, Family: People, NumberIs: Area},
	{Code: "NL", Words: "perimeter armed", Kind: KindClose, Family: People, NumberIs: Area},
	{Code: "NF", Words: "perimeter armed, forced", Kind: KindClose, Family: People, NumberIs: Area},

	{Code: "JA", Words: "wrong codes tried", Kind: KindLog, Family: People, NumberIs: Area},
	{Code: "JD", Words: "date set", Kind: KindLog, Family: System, NumberIs: User},
	{Code: "JT", Words: "time set", Kind: KindLog, Family: System, NumberIs: User},
	{Code: "JL", Words: "event log nearly full", Kind: KindLog, Family: System, NumberIs: NoNumber},
	{Code: "JO", Words: "event log overflowed", Kind: KindLog, Family: System, NumberIs: NoNumber},
	{Code: "JS", Words: "schedule changed", Kind: KindLog, Family: People, NumberIs: User},
	{Code: "JV", Words: "user code changed", Kind: KindLog, Family: People, NumberIs: User},
	{Code: "JX", Words: "user code deleted", Kind: KindLog, Family: People, NumberIs: User},
	{Code: "JY", Words: "user code added", Kind: KindLog, Family: People, NumberIs: User},
	{Code: "NA", Words: "no activity", Kind: KindLog, Family: People, NumberIs: Zone},
	{Code: "NS", Words: "activity again", Kind: KindLog, Family: People, NumberIs: Zone},

	{Code: "DD", Words: "access denied", Kind: KindAccess, Family: People, NumberIs: Door},
	{Code: "DF", Words: "door forced", Kind: KindAccess, Family: People, NumberIs: Door, restoredBy: []string{"DR"}},
	{Code: "DG", Words: "access granted", Kind: KindAccess, Family: People, NumberIs: Door},
	{Code: "DL", Words: "door held open", Kind: KindAccess, Family: People, NumberIs: Door, restoredBy: []string{"DR"}},
	{Code: "DM", Words: "door held open", Kind: KindAccess, Family: People, NumberIs: Door, restoredBy: []string{"DR"}},
	{Code: "DN", Words: "door held open", Kind: KindAccess, Family: People, NumberIs: Door, restoredBy: []string{"DR"}},
	{Code: "DR", Words: "door restored", Kind: KindAccess, Family: People, NumberIs: Door},
	{Code: "MI", Words: "message", Kind: KindLog, Family: People, NumberIs: NoNumber},
}

var siaTable = func() map[string]Meaning {
	var rows []Meaning
	for _, f := range siaFamilies {
		for _, s := range siaSecond {
			m := Meaning{Code: f.letter + s.letter, Words: f.words + " " + s.words, Kind: s.kind, Family: f.family, NumberIs: Zone}
			for r := range strings.FieldsSeq(s.restoredBy) {
				m.restoredBy = append(m.restoredBy, f.letter+r)
			}
			rows = append(rows, m)
		}
	}
	return tableOf(SIADCS, append(rows, siaRows...)) // a row of its own replaces the family's
}()
