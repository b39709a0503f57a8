package engine

import (
	"fmt"
	"maps"
	"slices"
	"time"

	"proofbell/internal/book"
	"proofbell/internal/building"
	"proofbell/internal/drawing"
	"proofbell/internal/estimate"
	"proofbell/internal/keypad"
	"proofbell/internal/prove"
	"proofbell/internal/reach"
	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/rules"
	"proofbell/site"
)

// kept is what is dear to compute from a site alone. The desks of one job hand it on, so that a tick or a signal, which
// changes no site, costs nothing of it.
type kept struct {
	site      *site.Site
	profile   *panel.Profile             // of that site; nil when it names none that is known
	findings  map[string]checked         // by day and language
	storeys   map[string][]drawing.Plan  // by language
	wanted    keypad.ZoneTable           // what its panel should hold
	wantedOf  *panel.Profile             // the profile that wanted is for
	built     *building.Building         // see building
	heard     map[string]*estimate.Sound // by what is asked; see sound
	models    map[*site.Site]*models     // of this site and of those that readings were taken in
	out       map[string]words.Text      // by what change readings are out of date; see outOfDate
	links     *estimate.Radio            // see Radio
	linksOf   string                     // the readings that it is for
	local     *time.Location             // in the browser each look-up of a time zone searches all of them
	reached   *reach.Model               // see Reach
	reachedOf string                     // the readings and the day that it is for

	own      map[string]*panel.Profile // the job's own profiles
	profiles map[string]*panel.Profile // those that were looked for, by name
	plans    map[planKey][]prove.Step
	redo     map[sitePair]map[prove.StepID]bool
}

// sitePair is a change from one site to another.
type sitePair struct{ before, after *site.Site }

// planKey names a plan: sites are never changed in place, so that the pointer stands for what is in it.
type planKey struct {
	lang  string
	site  *site.Site
	scope string
}

type checked struct {
	findings []rules.Finding
	err      error
}

// keep takes over from before what still holds for the site and the runs of a state. before may be nil.
func keep(before *kept, state *book.State) *kept {
	same := before != nil && maps.Equal(before.own, state.Profiles)
	if same && before.site == state.Site {
		return before
	}
	k := &kept{site: state.Site, own: state.Profiles, local: time.UTC, findings: map[string]checked{}, storeys: map[string][]drawing.Plan{}, heard: map[string]*estimate.Sound{}, models: map[*site.Site]*models{}, out: map[string]words.Text{}, profiles: map[string]*panel.Profile{}, plans: map[planKey][]prove.Step{}, redo: map[sitePair]map[prove.StepID]bool{}}
	if same {
		k.profiles, k.plans, k.redo = before.profiles, before.plans, before.redo
		gone := func(s *site.Site) bool {
			return !slices.ContainsFunc(state.Runs, func(r *prove.Run) bool { return state.SiteOf(r.ID) == s })
		}
		maps.DeleteFunc(k.plans, func(key planKey, _ []prove.Step) bool { return gone(key.site) })
		maps.DeleteFunc(k.redo, func(key sitePair, _ map[prove.StepID]bool) bool { return gone(key.after) })
	}
	k.profile = k.profileOf(state.Site)
	if local, err := time.LoadLocation(state.Site.Premises.TimeZone); err == nil {
		k.local = local
	}
	return k
}

func (k *kept) profileOf(s *site.Site) *panel.Profile {
	name := s.Panel.Profile
	if own := k.own[name]; own != nil {
		return own
	}
	if _, known := k.profiles[name]; !known {
		k.profiles[name], _ = panel.Builtin(name) // nil for one that is not known
	}
	return k.profiles[name]
}

func (k *kept) plan(lang *words.Language, s *site.Site, o prove.Options) []prove.Step {
	key := planKey{lang.Tag(), s, fmt.Sprintf("%+v", o)}
	if _, known := k.plans[key]; !known {
		k.plans[key] = prove.In(lang).Plan(s, k.profileOf(s), o)
	}
	return k.plans[key]
}

// check is what the rules find on a day, nothing of it accepted.
func (k *kept) check(lang *words.Language, day time.Time, measured rules.Measured) checked {
	key := day.Format(time.DateOnly) + " " + lang.Tag()
	for _, r := range measured.Sound {
		key += " " + r.Entry
	}
	for _, r := range measured.Radio.Levels {
		key += " " + r.Entry
	}
	if _, known := k.findings[key]; !known {
		found, err := rules.CheckMeasured(lang.Tag(), k.site, k.profile, day, measured)
		k.findings[key] = checked{found, err}
	}
	return k.findings[key]
}

func (k *kept) drawn(lang *words.Language) []drawing.Plan {
	if _, known := k.storeys[lang.Tag()]; !known {
		k.storeys[lang.Tag()] = drawing.StoreysIn(lang, k.site)
	}
	return k.storeys[lang.Tag()]
}
