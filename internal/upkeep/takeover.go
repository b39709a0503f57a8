package upkeep

import (
	"cmp"
	"slices"
	"strings"

	"proofbell/internal/sorts"
	"proofbell/internal/words"
	"proofbell/site"
)

// Who can close a gap.
const (
	ByStation = "station"
)

// Answer is one choice that a question offers.
type Answer struct {
	Value string `json:"value"`
	Say   string `json:"say"`
}

// Ask is one question of taking over an unknown system. Answers stand in the site file: Member says where. A code is never
// asked for.
type Ask struct {
	ID      string   `json:"id"`
	Say     string   `json:"say"`
	Hint    string   `json:"hint"`
	Member  string   `json:"member"`  // JSON pointer into the site; "" when it is answered elsewhere
	Choices []Answer `json:"choices"` // empty: a date or a paper
	Paper   bool     `json:"paper"`   // none, asked, or a date
	Date    bool     `json:"date"`
	Value   string   `json:"value"`
	Stage   string   `json:"stage"` // where else it is answered: survey, schedule, prove; "" here
	Done    bool     `json:"done"`
	Gap     *Gap     `json:"gap"` // what is missing; null: nothing
}

// Gap is something that keeps a system which was taken over from being known.
type Gap struct {
	ID       string `json:"id"`
	Severity string `json:"severity"` // stop, fix, advise
	Say      string `json:"say"`
	Do       string `json:"do"`
	Who      string `json:"who"` // technician, electrician, owner, desk, station
	WhoSay   string `json:"whoSay"`
}

// Takeover is the guided list and what is still missing, gravest first.
type Takeover struct {
	Asks []Ask `json:"asks"`
	Gaps []Gap `json:"gaps"`
	Left int   `json:"left"` // questions without an answer
}

type taker struct {
	s     *site.Site
	words *words.Language
	out   Takeover
}

// TakeOver lists what is asked when the system of others is taken over, and the gaps. proved says whether anything was
// proved in this job.
func TakeOver(s *site.Site, proved bool, lang *words.Language) Takeover {
	t := &taker{s: s, words: lang, out: Takeover{Asks: []Ask{}, Gaps: []Gap{}}}
	t.owners()
	t.access()
	t.station()
	t.dates()
	t.hearing()
	if !proved {
		t.ask(Ask{ID: "proof", Say: t.words.Say("What is proved?"), Hint: t.words.Say("What others wrote down is no proof of today."), Stage: "prove"},
			&Gap{Severity: "fix", Say: t.words.Say("Nothing was proved in this job."), Do: t.words.Say("Open a proving run over everything."), Who: ByTechnician})
	}
	order := []string{"stop", "fix", "advise"}
	sorts.Stable(t.out.Gaps, func(a, b Gap) int { return slices.Index(order, a.Severity) - slices.Index(order, b.Severity) })
	return t.out
}

// ask adds a question; a gap says what is missing in its answer. A question whose value is empty is open.
func (t *taker) ask(a Ask, gap *Gap) {
	if a.Choices == nil {
		a.Choices = []Answer{}
	}
	if gap != nil {
		gap.ID, gap.WhoSay = a.ID, t.whoSay(gap.Who)
		t.out.Gaps = append(t.out.Gaps, *gap)
	}
	a.Gap, a.Done = gap, gap == nil
	if a.Member != "" && a.Value == "" {
		t.out.Left++
	}
	t.out.Asks = append(t.out.Asks, a)
}

func (t *taker) whoSay(who string) string {
	if who == ByStation {
		return t.words.Say("Station")
	}
	return (&lister{words: t.words}).whoSay(who)
}

func (t *taker) owners() {
	took := t.s.Takeover
	owners := []Answer{
		{"owner", t.words.Say("The owner")},
		{"firm", t.words.Say("Our firm")},
		{"other-firm", t.words.Say("Another firm")},
		{"nobody", t.words.Say("Nobody knows")},
	}
	gapOf := func(value, what string) *Gap {
		switch value {
		case "":
			return &Gap{Severity: "fix", Say: t.words.Say("Not asked yet: %s", what), Do: t.words.Say("Ask the owner."), Who: ByOwner}
		case "other-firm", "nobody":
			return &Gap{Severity: "fix", Say: t.words.Say("%s belongs to somebody else, or to nobody known.", what), Do: t.words.Say("The owner has it signed over, in writing, before anything is changed in it."), Who: ByOwner}
		}
		return nil
	}
	t.ask(Ask{ID: "account-owner", Say: t.words.Say("Who owns the account at the station?"), Member: "/takeover/accountOwner", Value: took.AccountOwner, Choices: owners}, gapOf(took.AccountOwner, t.words.Say("The account at the station")))
	hosted := append(slices.Clone(owners), Answer{"none", t.words.Say("There is none")})
	t.ask(Ask{
		ID: "hosted-owner", Say: t.words.Say("Who owns the account of a hosted path or service?"), Hint: t.words.Say("Without it the path can not be changed, and ends when somebody else stops paying."),
		Member: "/takeover/hostedOwner", Value: took.HostedOwner, Choices: hosted,
	}, gapOf(took.HostedOwner, t.words.Say("The hosted account")))
	var gap *Gap
	if a := took.Authority; a == "" || a == "none" || a == "asked" {
		gap = &Gap{Severity: "stop", Say: t.words.Say("No written authority of the owner."), Do: t.words.Say("Have it signed before the panel is opened or the station is called."), Who: ByOwner}
	}
	t.ask(Ask{ID: "authority", Say: t.words.Say("Written authority of the owner"), Member: "/takeover/authority", Value: took.Authority, Paper: true}, gap)
}

func (t *taker) access() {
	took := t.s.Takeover
	var gap *Gap
	switch took.InstallerCode {
	case "":
		gap = &Gap{Severity: "fix", Say: t.words.Say("Not looked at: the installer code."), Do: t.words.Say("Try whether the code as made still opens it. Write no code down here."), Who: ByTechnician}
	case "default":
		gap = &Gap{Severity: "stop", Say: t.words.Say("The installer code is still as made: anybody can look it up."), Do: t.words.Say("Change it, on test, and keep it where your firm keeps codes."), Who: ByTechnician}
	case "old":
		gap = &Gap{Severity: "fix", Say: t.words.Say("The installer code is that of the firm before."), Do: t.words.Say("Change it, on test, and keep it where your firm keeps codes."), Who: ByTechnician}
	}
	t.ask(Ask{
		ID: "installer-code", Say: t.words.Say("Installer code"), Hint: t.words.Say("Only how it stands, never the code."), Member: "/takeover/installerCode", Value: took.InstallerCode,
		Choices: []Answer{{"default", t.words.Say("As made")}, {"old", t.words.Say("Of the firm before")}, {"changed", t.words.Say("Changed")}},
	}, gap)
	remains := []Answer{{"removed", t.words.Say("Removed")}, {"still-there", t.words.Say("Still there")}, {"none", t.words.Say("There was none")}}
	for _, q := range []struct{ id, say, member, value, gone, do, who string }{
		{"remote-access", t.words.Say("Old remote access"), "/takeover/remoteAccess", took.RemoteAccess, t.words.Say("Others may still reach the panel from outside."), t.words.Say("Remove it at the panel and at the hosted service."), ByTechnician},
		{"old-codes", t.words.Say("Codes and passcodes of people who left"), "/takeover/oldCodes", took.OldCodes, t.words.Say("People who left can still disarm, or call off an alarm."), t.words.Say("Delete their codes; have the station renew the passcodes."), ByOwner},
		{"destinations", t.words.Say("Reporting destinations of others"), "/takeover/destinations", took.Destinations, t.words.Say("Signals may still go to another station or firm."), t.words.Say("Remove them at the panel; let the station say where signals arrive."), ByTechnician},
	} {
		gap = nil
		switch q.value {
		case "":
			gap = &Gap{Severity: "fix", Say: t.words.Say("Not looked at: %s", q.say), Do: q.do, Who: q.who}
		case "still-there":
			gap = &Gap{Severity: "stop", Say: q.gone, Do: q.do, Who: q.who}
		}
		t.ask(Ask{ID: q.id, Say: q.say, Member: q.member, Value: q.value, Choices: remains}, gap)
	}
}

// station compares what the station holds with the schedule.
func (t *taker) station() {
	st := t.s.Station
	a := Ask{ID: "read-back", Say: t.words.Say("What the station holds"), Hint: t.words.Say("Have it read back, zone by zone, and enter it as it was said."), Member: "/station/zoneListAsOf", Value: st.ZoneListAsOf.String(), Date: true, Stage: "schedule"}
	if len(st.ZoneList) == 0 {
		t.ask(a, &Gap{Severity: "fix", Say: t.words.Say("The station's zone list is not known."), Do: t.words.Say("Call the station, let it read its list, enter it line by line."), Who: ByStation})
		return
	}
	var differ []string
	listed := map[site.ZoneID]site.Zone{}
	for id := range st.ZoneList {
		listed[id] = site.Zone{}
	}
	for _, id := range both(t.s.Zones, listed) {
		z, planned := t.s.Zones[id]
		held, there := st.ZoneList[id]
		switch {
		case planned && z.Kind == site.Unused && !there:
		case !planned || !there, held.Label != z.Label, held.Code != "" && held.Code != z.Code:
			differ = append(differ, string(id))
		}
	}
	if len(differ) == 0 {
		t.ask(a, nil)
		return
	}
	t.ask(a, &Gap{Severity: "fix", Say: t.words.Say("The station's list differs from the schedule in zones %s.", strings.Join(differ, ", ")), Do: t.words.Say("Find out which is right on site, then send the list anew and have it read back."), Who: ByStation})
}

func (t *taker) dates() {
	p := t.s.Power
	var gap *Gap
	if p.BatteryDate.IsZero() {
		gap = &Gap{Severity: "fix", Say: t.words.Say("The date of the panel's battery is not known."), Do: t.words.Say("Read it; without a date, replace the battery."), Who: ByTechnician}
	}
	t.ask(Ask{ID: "panel-battery", Say: t.words.Say("Date on the panel's battery"), Hint: t.words.Say("On test before the lid opens."), Member: "/power/batteryDate", Value: p.BatteryDate.String(), Date: true}, gap)
	var unread []string
	for _, id := range site.SortedIDs(t.s.Heads) {
		if t.s.Heads[id].Made.IsZero() {
			unread = append(unread, string(id))
		}
	}
	gap = nil
	switch {
	case len(t.s.Heads) == 0:
		gap = &Gap{Severity: "fix", Say: t.words.Say("No alarm is in the survey."), Do: t.words.Say("Go through every room, loft and cellar too. On test, people told, ear protection: press one alarm and count how many sound."), Who: ByTechnician}
	case len(unread) > 0:
		gap = &Gap{Severity: "fix", Say: t.words.Say("Made date not read: %s.", strings.Join(unread, ", ")), Do: t.words.Say("Read the label of each; taking down a mains alarm is the electrician's."), Who: ByTechnician}
	}
	t.ask(Ask{ID: "head-dates", Say: t.words.Say("Made dates of the alarms"), Stage: "survey"}, gap)
}

// hearing asks what each listener hears, and which groups nobody hears.
func (t *taker) hearing() {
	heard := map[site.GroupID]bool{}
	var deaf []string
	bridges := 0
	for _, id := range site.SortedIDs(t.s.Devices) {
		d := t.s.Devices[id]
		m, _ := t.s.ModelOf(id)
		if m.Class != "bridge" && d.Hears == "" {
			continue
		}
		bridges++
		heard[d.Hears] = true
		if d.Hears == "" || d.Beside == "" {
			deaf = append(deaf, cmp.Or(m.Name, string(id)))
		}
	}
	var unheard []string
	for _, id := range site.SortedIDs(t.s.Groups) {
		if !heard[id] && len(t.s.HeadsOf(id)) > 0 {
			unheard = append(unheard, string(id))
		}
	}
	var gap *Gap
	switch {
	case len(deaf) > 0:
		gap = &Gap{Severity: "fix", Say: t.words.Say("Not known what it hears: %s.", strings.Join(deaf, ", ")), Do: t.words.Say("On test, people told, ear protection: hold the test button of one alarm of each group and watch the panel."), Who: ByTechnician}
	case len(unheard) > 0:
		gap = &Gap{Severity: "advise", Say: t.words.Say("Nobody hears group %s: it tells nobody outside.", strings.Join(unheard, ", ")), Do: t.words.Say("Tell the owner; offer a listener or detectors beside it."), Who: ByOwner}
	}
	t.ask(Ask{ID: "hearing", Say: t.words.Say("What each listener hears"), Stage: "survey"}, gap)
}
