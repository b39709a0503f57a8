package labels

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"proofbell/internal/sorts"
)

// What a change of a label costs. The figures are our own judgement: a word with the same meaning is nearest, a word left
// out that nobody needs next, a place lost last.
const (
	costStem    = 3  // another number of the same word
	costFiller  = 2  // left out, carries nothing
	costPanel   = 5  // the profile's own other word
	costSame    = 8  // our other word with the same meaning
	costWider   = 14 // a wider word
	costDigits  = 12 // a number said digit by digit
	costDrop    = 22 // left out
	costDropped = 30 // left out: an end, a side or a number
	costGroup   = 4  // a listener named for the alarms that it hears
	costNarrow  = 12 // a listener named for its room
	costHeight  = 6  // up or down added
	costRoom    = 9  // each word of the room added
	costNumber  = 16 // a number added
	costMade    = 1  // made from room and device, because nothing is written

	mostPartial    = 160
	mostCandidates = 24
)

// candidate is a phrase that could be said.
type candidate struct {
	words []string
	cost  int
	why   []string
	key   string   // alike for the same words
	base  string   // key of it without what was added
	added []string // to tell it from others
	kept  bool     // as written
}

// option is one way to say a stretch of the label.
type option struct {
	words []string
	cost  int
	why   string
	late  bool // goes to the end: up, down
	after bool // goes behind the next word: "2nd room" is room two
}

// candidates lists what the panel can truly say, cheapest first. why says why there is nothing.
func (v *voice) candidates(l Label, f facts) (out []candidate, why string) {
	tokens, made := l.Words, false
	if len(tokens) == 0 {
		if len(f.say) == 0 {
			return nil, v.lang.Say("Nothing is written, and what the zone senses is not known or has no word in the list.")
		}
		tokens, made = f.say, true
		if !f.heard {
			tokens = slices.Concat(f.room, f.say)
		}
	}
	f.both = bothPoles(tokens)
	partial := []candidate{{}}
	var late [][]string // of each partial; kept beside, as candidates are plain values
	late = append(late, nil)
	behind := [][]string{nil}
	for i := 0; i < len(tokens); {
		options, n, need := v.options(tokens[i:], f)
		if len(options) == 0 {
			return nil, need
		}
		var next []candidate
		var nextLate, nextBehind [][]string
		for k, c := range partial {
			for _, o := range options {
				one := candidate{words: slices.Clone(c.words), cost: c.cost + o.cost, why: slices.Clone(c.why)}
				if o.why != "" {
					one.why = append(one.why, o.why)
				}
				end, wait := late[k], behind[k]
				switch {
				case o.late:
					end = slices.Concat(end, o.words)
				case o.after && len(wait) == 0:
					wait = o.words
				default:
					one.words = append(one.words, o.words...)
					if len(o.words) > 0 && len(wait) > 0 {
						one.words, wait = append(one.words, wait...), nil
					}
				}
				next, nextLate, nextBehind = append(next, one), append(nextLate, end), append(nextBehind, wait)
			}
		}
		order := make([]int, len(next))
		for k := range order {
			order[k] = k
		}
		sorts.Stable(order, func(a, b int) int {
			return cmp.Or(cmp.Compare(next[a].cost, next[b].cost), slices.Compare(next[a].words, next[b].words))
		})
		order = order[:min(len(order), mostPartial)]
		partial, late, behind = nil, nil, nil
		for _, k := range order {
			partial, late, behind = append(partial, next[k]), append(late, nextLate[k]), append(behind, nextBehind[k])
		}
		i += n
	}
	for k := range partial {
		partial[k].words = slices.Concat(partial[k].words, behind[k], late[k])
		if made {
			partial[k].cost += costMade
			partial[k].why = append([]string{v.lang.Say("made from room and device, because nothing is written")}, partial[k].why...)
		}
	}
	return v.finish(l, f, partial)
}

// finish adds what tells phrases apart, and leaves out what is too long or not true.
func (v *voice) finish(l Label, f facts, bases []candidate) (out []candidate, why string) {
	long, untrue := 0, ""
	best := map[string]int{}
	add := func(c candidate) {
		c.words = unique(c.words)
		c.kept = slices.Equal(c.words, l.Words)
		if c.kept && len(l.Codes) == 0 {
			return
		}
		codes, missing := v.panel.SayWords(c.words)
		switch {
		case len(codes) == 0 || len(missing) > 0:
			return
		case len(codes) > v.most:
			long = max(long, len(codes))
			return
		}
		if said := v.untrue(c.words, f); said != "" {
			untrue = cmp.Or(untrue, said)
			return
		}
		c.key = phraseKey(codes)
		if at, is := best[c.key]; !is {
			best[c.key] = len(out)
			out = append(out, c)
		} else if c.cost < out[at].cost {
			out[at] = c
		}
	}
	height := map[int]string{1: "UP", -1: "DOWN"}[f.level]
	for _, b := range bases[:min(len(bases), mostCandidates)] {
		b.words = unique(b.words)
		codes, _ := v.panel.SayWords(b.words)
		b.base = phraseKey(codes)
		if len(b.words) == 0 {
			continue
		}
		if f.heard && !slices.Equal(b.words, f.say) {
			b.cost += costNarrow
		}
		add(b)
		more := func(c candidate, cost int, front bool, w ...string) candidate {
			c.cost += cost
			c.added = slices.Concat(c.added, w)
			if front {
				c.words = slices.Concat(w, c.words)
			} else {
				c.words = slices.Concat(c.words, w)
			}
			add(c)
			return c
		}
		wider := []candidate{b}
		if height != "" && !slices.Contains(b.words, height) {
			wider = append(wider, more(b, costHeight, false, height))
		}
		if !f.heard {
			for _, w := range f.room {
				if v.has(w) && !slices.Contains(b.words, w) {
					wider = append(wider, more(b, costRoom, true, w))
				}
			}
		}
		for _, c := range wider {
			for i, w := range numbers[1:] {
				if v.has(w) && !slices.ContainsFunc(c.words, func(one string) bool { return slices.Contains(numbers, one) }) {
					more(c, costNumber+i, false, w)
				}
			}
		}
	}
	codes, _ := v.panel.SayWords(f.say)
	if _, written := best[phraseKey(codes)]; f.heard && len(codes) > 0 && !written {
		add(candidate{words: f.say, cost: costGroup, why: []string{v.lang.Say("it hears the alarms of the whole house: %s", strings.Join(f.say, " "))}})
	}
	sorts.Stable(out, func(a, b candidate) int {
		return cmp.Or(cmp.Compare(a.cost, b.cost), cmp.Compare(len(a.words), len(b.words)), slices.Compare(a.words, b.words))
	})
	switch {
	case len(out) > 0:
		return out, ""
	case untrue != "":
		return nil, untrue
	case long > 0:
		return nil, v.lang.Say("It takes at least %d words to say it truly, and the panel holds %d.", long, v.most)
	}
	return nil, v.lang.Say("None of its words is in the list, and nothing true stands for them.")
}

// options are the ways to say the beginning of what is left of a label, and how many of its words that takes. Without any,
// need says what is missing.
func (v *voice) options(tokens []string, f facts) (out []option, n int, need string) {
	w := tokens[0]
	if len(tokens) > 1 {
		pair := w + " " + tokens[1]
		if floor := v.floor(w, tokens[1], f); floor != nil {
			return floor, 2, ""
		}
		if phrases, is := together[pair]; is && !(v.has(w) && v.has(tokens[1])) {
			out = v.instead(pair, phrases, costSame)
			if len(out) == 0 {
				need = v.lang.Say("%s is not in the list, nothing true stands for it, and it can not be left out.", pair)
			}
			return out, 2, need
		}
	}
	if v.has(w) {
		out = append(out, option{words: []string{w}})
	} else {
		out = v.number(w)
		for _, stem := range []string{strings.TrimSuffix(w, "S"), w + "S", strings.TrimSuffix(w, "ES")} {
			if stem == w {
				continue
			}
			if v.has(stem) {
				out = append(out, option{words: []string{stem}, cost: costStem, why: v.lang.Say("%s is not in the list: %s said instead", w, stem)})
			} else if stem != w+"S" {
				out = append(out, v.others(stem, costStem)...)
			}
		}
		out = append(out, v.others(w, 0)...)
	}
	pole := poles[w]
	left := v.lang.Say("%s left out", w)
	if !v.has(w) {
		left = v.lang.Say("%s left out: the panel has no word for it", w)
	}
	drop := costDrop
	switch {
	case fillers[w] && (len(tokens) > 1 || len(out) == 0):
		drop = costFiller
		left = v.lang.Say("%s left out", w)
	case pole != "" && strings.Contains("hdx"+f.both, pole[:1]):
		drop = 0 // height, danger and a denial stay, and one of two opposites
	case pole != "" || len(v.number(w)) > 0 || slices.Contains(numbers, w) || digits(w):
		drop = costDropped
	}
	if drop > 0 {
		out = append(out, option{cost: drop, why: left})
	}
	if len(out) == 0 {
		need = v.lang.Say("%s is not in the list, nothing true stands for it, and it can not be left out.", w)
	}
	return out, 1, need
}

// others are other words for one: those of the profile, then our own.
func (v *voice) others(w string, cost int) []option {
	var out []option
	if own := v.panel.SayInstead(w); own != nil {
		out = v.instead(w, strings.Join(own, " "), costPanel)
	}
	out = append(out, v.instead(w, another[w], costSame)...)
	for i := range out {
		out[i].cost += cost
	}
	return out
}

// instead keeps, of the phrases for a word, those that the panel has and that stay at the word's pole.
func (v *voice) instead(w, phrases string, cost int) []option {
	var out []option
	if phrases == "" {
		return nil
	}
	for _, phrase := range strings.Split(phrases, ",") {
		wider := strings.HasPrefix(phrase, "~")
		spoken := strings.Fields(strings.TrimPrefix(phrase, "~"))
		if slices.ContainsFunc(spoken, func(one string) bool { return !v.has(one) }) || !sameSense(w, spoken) {
			continue
		}
		o := option{words: spoken, cost: cost, why: v.lang.Say("%s is not in the list: %s said instead", w, strings.Join(spoken, " "))}
		if wider {
			o.cost, o.why = costWider, v.lang.Say("%s is not in the list: %s is wider and still true", w, strings.Join(spoken, " "))
		}
		o.late = len(spoken) == 1 && strings.HasPrefix(poles[spoken[0]], "h")
		out = append(out, o)
	}
	return out
}

// sameSense reports whether a phrase may stand for a word: no danger that the word does not name, no other pole.
func sameSense(w string, phrase []string) bool {
	for _, one := range phrase {
		pole := poles[one]
		own := poles[w]
		if strings.Contains(w, " ") {
			own = map[string]string{"CALL POINT": "dfire", "PULL STATION": "dfire", "LOW TEMPERATURE": "dcold", "HIGH TEMPERATURE": "dheat", "CARBON MONOXIDE": "dco"}[w]
		} else if w == "CALLPOINT" {
			own = "dfire"
		}
		switch {
		case pole == "" || pole == own:
		case pole == "dfire" && (own == "dsmoke" || own == "dheat"):
		case pole[0] == 'd' || own != "" && pole[0] == own[0]:
			return false
		}
	}
	return true
}

// number says a number that is written in another way.
func (v *voice) number(w string) []option {
	for n, ways := range counted {
		at := slices.Index(ways, w)
		if at >= 0 && v.has(numbers[n]) {
			return []option{{words: []string{numbers[n]}, cost: costStem, why: v.lang.Say("%s is said as %s", w, numbers[n]), after: at < 2}}
		}
	}
	if !digits(w) {
		return nil
	}
	if n, err := strconv.Atoi(w); err == nil && n < len(numbers) && v.has(numbers[n]) {
		return []option{{words: []string{numbers[n]}, cost: costStem, why: v.lang.Say("%s is said as %s", w, numbers[n])}}
	}
	var each []string
	for _, c := range []byte(w) {
		if !v.has(numbers[c-'0']) {
			return nil
		}
		each = append(each, numbers[c-'0'])
	}
	return []option{{words: each, cost: costDigits, why: v.lang.Say("%s is said digit by digit: %s", w, strings.Join(each, " "))}}
}

func digits(w string) bool {
	return w != "" && len(w) < 4 && strings.Trim(w, "0123456789") == ""
}

// floor says a storey, which has a number of its own that is no number of a room. nil: it is none.
func (v *voice) floor(which, noun string, f facts) []option {
	if !slices.Contains([]string{"FLOOR", "STOREY", "STORY", "LEVEL"}, noun) || v.has(noun) {
		return nil
	}
	if which != "GROUND" && !digits(which) && !slices.Contains(numbers, which) && !slices.ContainsFunc(counted, func(ways []string) bool { return slices.Contains(ways, which) }) {
		return nil
	}
	out := []option{}
	said := which + " " + noun
	if height := map[int]string{1: "UP", -1: "DOWN"}[f.level]; height != "" && which != "GROUND" && v.has(height) {
		out = append(out, option{words: []string{height}, cost: costSame, why: v.lang.Say("%s is not in the list: %s said instead", said, height), late: true})
	}
	return append(out, option{cost: costDropped, why: v.lang.Say("%s left out: the panel has no word for it", said)})
}

// untrue says what is false in a phrase; "" when nothing is known against it.
func (v *voice) untrue(spoken []string, f facts) string {
	at := map[byte]string{}
	named := false
	for _, w := range spoken {
		pole := poles[w]
		if pole == "" {
			continue
		}
		if pole[0] == 'd' {
			if f.dangers != nil && !slices.Contains(f.dangers, pole) {
				return v.lang.Say("The label says %s, its device senses something else: settle first which is right.", w)
			}
			named = true
			continue
		}
		if before := at[pole[0]]; before != "" && before != pole && !strings.Contains(f.both, pole[:1]) {
			return v.lang.Say("What could be said contradicts itself: %s.", strings.Join(spoken, " "))
		}
		at[pole[0]] = pole
	}
	if carbon := slices.Contains(spoken, "CARBON"); carbon != slices.Contains(spoken, "MONOXIDE") {
		return v.lang.Say("Carbon monoxide is said with both its words, or not at all.")
	}
	if h := at['h']; h == "h+" && f.level < 0 || h == "h-" && f.level > 0 {
		return v.lang.Say("The label says up or down against the storey of the room: settle first which is right.")
	}
	if f.life && !named {
		return v.lang.Say("What could be said names no danger.")
	}
	return ""
}

// bothPoles names the axes, but height, of which a label names opposite ends: "Front and back door".
func bothPoles(tokens []string) string {
	axes, at := "", map[byte]string{}
	for _, w := range tokens {
		pole := poles[w]
		if pole == "" || strings.Contains("hdx", pole[:1]) {
			continue
		}
		if before := at[pole[0]]; before != "" && before != pole {
			axes += pole[:1]
		}
		at[pole[0]] = pole
	}
	return axes
}

func (v *voice) has(w string) bool { return v.panel.Words[w] != "" }

func unique(spoken []string) []string {
	var out []string
	for _, w := range spoken {
		if !slices.Contains(out, w) || slices.Contains(numbers, w) { // one one is eleven
			out = append(out, w)
		}
	}
	return out
}
