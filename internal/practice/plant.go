// Package practice plants mistakes in a sound site, so that people can learn to find them, and marks what they found.
//
// The same source, seed, level and day give the same mistakes, so that a learner's file holds only these and the key is
// made anew for the marking. Each mistake is one that the rules find, as one finding, and nothing else comes with it.
// What is marked is practice and no proof of anybody's skill.
package practice

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"maps"
	"slices"
	"time"

	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/rules"
	"proofbell/site"
)

// Levels are how many mistakes are planted at level 1, 2 and 3. At the first level all of them can be seen on one sheet.
var Levels = []int{3, 6, 10}

// Why nothing is planted or marked.
var (
	ErrNotSound = errors.New("the site has stops or things to fix of its own: mistakes are planted in a sound one")
	ErrLevel    = errors.New("there are levels 1 to 3")
	ErrFew      = errors.New("the site is too small to hold so many mistakes")
	ErrSource   = errors.New("the site that the mistakes were planted in is another one")
)

// Made is a practice site with its key.
type Made struct {
	Site *site.Site
	Key  []string // keys of the findings that the mistakes make, as rules.Check finds them on the day
}

// SourceOf is the mark of a sound site: the beginning of SHA-256 over its file form as JSON.
func SourceOf(source *site.Site) string {
	raw, err := site.EncodeJSON(source)
	if err != nil {
		return ""
	}
	sum := sha256.Sum256(raw)
	return hex.EncodeToString(sum[:8])
}

// Make plants the mistakes of a seed in a sound site. The source is not changed.
func Make(source *site.Site, p *panel.Profile, seed, level int, on time.Time) (Made, error) {
	if level < 1 || level > len(Levels) {
		return Made{}, ErrLevel
	}
	if source.Planted != nil {
		return Made{}, fmt.Errorf("%w: this is a practice site already", ErrNotSound)
	}
	day := on.Format(time.DateOnly)
	on, _ = time.Parse(time.DateOnly, day) // written just now
	before, err := rules.Check(source, p, on)
	if err != nil {
		return Made{}, err
	}
	if n := rules.Count(before); n.Stop+n.Fix > 0 {
		return Made{}, ErrNotSound
	}
	had := map[string]bool{}
	for _, f := range before {
		had[f.Key] = true
	}
	judge := func(s *site.Site) []rules.Finding {
		found, _ := rules.Check(s, p, on) // it was checked before
		return slices.DeleteFunc(found, func(f rules.Finding) bool { return had[f.Key] || f.NotJudged })
	}

	r := &random{uint64(seed)*2654435761 + uint64(level)}
	made := Made{Site: source}
	var found []rules.Finding
	order := r.order(len(sorts))
	for range 3 { // a kind of mistake comes again only when all others were tried
		for _, i := range order {
			if len(found) == Levels[level-1] {
				break
			}
			if sorts[i].level > level {
				continue
			}
			all := sorts[i].of(made.Site, p)
			for n, k := range r.order(len(all)) {
				if n == mostTries {
					break
				}
				trial := *made.Site
				all[k](&trial)
				if after := judge(&trial); single(found, after, sorts[i].rules) {
					made.Site, found = &trial, after
					break
				}
			}
		}
	}
	if len(found) < Levels[level-1] {
		return Made{}, ErrFew
	}
	planted := *made.Site
	planted.Practice = true
	planted.Planted = &site.Planted{Seed: seed, Level: level, Source: SourceOf(source)}
	if planted.Planted.On, err = site.ParseDate(day); err != nil {
		return Made{}, err
	}
	made.Site = &planted
	for _, f := range found {
		made.Key = append(made.Key, f.Key)
	}
	slices.Sort(made.Key) // the order of planting would tell something
	return made, nil
}

// Again makes the key of a practice site anew. ErrSource when source is not the site that it was made from.
func Again(planted *site.Planted, source *site.Site, p *panel.Profile) (Made, error) {
	if planted.Source != SourceOf(source) {
		return Made{}, ErrSource
	}
	return Make(source, p, planted.Seed, planted.Level, planted.On.First())
}

const mostTries = 8

// single reports whether one more mistake brought one more finding of its own rules, at a place of its own, and left the
// others as they were.
func single(before, after []rules.Finding, want []string) bool {
	if len(after) != len(before)+1 {
		return false
	}
	stood := map[string]bool{}
	places := map[rules.Place]bool{}
	for _, f := range before {
		stood[f.Key] = true
		places[f.Places[0]] = true
	}
	more := 0
	for _, f := range after {
		if stood[f.Key] {
			continue
		}
		if more++; !slices.Contains(want, f.Rule) || places[f.Places[0]] {
			return false
		}
	}
	return more == 1
}

// random is a small sequence of numbers that is the same everywhere (SplitMix64).
type random struct{ state uint64 }

func (r *random) next() uint64 {
	r.state += 0x9e3779b97f4a7c15
	z := r.state
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}

// order shuffles the numbers below n.
func (r *random) order(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	for i := n - 1; i > 0; i-- {
		k := int(r.next() % uint64(i+1))
		out[i], out[k] = out[k], out[i]
	}
	return out
}

// with copies a map with one value changed: sites share what was not changed.
func with[K comparable, V any](m map[K]V, key K, change func(*V)) map[K]V {
	out := maps.Clone(m)
	v := out[key]
	change(&v)
	out[key] = v
	return out
}

func without[K comparable, V any](m map[K]V, key K) map[K]V {
	out := maps.Clone(m)
	delete(out, key)
	return out
}

// Name tells a practice from the site that it was made of, and from others made of it.
func Name(lang *words.Language, s *site.Site) string {
	return lang.Say("%s, practice %d", s.Name, s.Planted.Seed)
}
