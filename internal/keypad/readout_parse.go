package keypad

import (
	"cmp"
	"slices"
	"strings"

	"proofbell/internal/words"
	"proofbell/panel"
)

// maxShown bounds what is taken as seen on a display.
const maxShown = 64

// tidy is what was seen as a display shows it: capitals, single spaces.
func tidy(text string) string { return strings.ToUpper(strings.Join(strings.Fields(text), " ")) }

func refused(say words.Text) error { return &words.Error{Say: say} }

// parseShown reads what stands at a prompt; "" for nothing. known is false for what the panel's description does not have,
// which is taken only when whoever saw it is sure.
func parseShown(p *panel.Profile, n panel.Node, s Seen) (answer string, known bool, err error) {
	text := tidy(s.Text)
	if len(text) > maxShown {
		return "", false, refused(words.Later("That is longer than a display. Type what stands beside %s.", n.Shows))
	}
	if text == "" {
		return "", true, nil
	}
	close := strings.NewReplacer(" ", "", "-", "", ".", "").Replace(text)
	digits := strings.Trim(close, "0123456789") == ""
	switch n.Form {
	case panel.FormNumber:
		if answer, known = close, digits && len(close) == n.Width; !known {
			err = refused(words.Later("%s shows %d digits. Look again and type all of them.", n.Shows, n.Width))
		}
	case panel.FormWord:
		if answer = wordNumber(p, n, text); answer == n.End || p.Word(answer) != "" {
			return answer, true, nil
		}
		err = refused(words.Later("%s is no word of this panel. Look again.", text))
	case panel.FormWords:
		answer, known, err = parseWords(p, n, text, close, digits)
	case panel.FormIdentity:
		i := p.Identity
		answer = close
		shape := len(close) == i.Letters+i.Digits && strings.Trim(close[:i.Letters], "ABCDEFGHIJKLMNOPQRSTUVWXYZ") == "" && strings.Trim(close[i.Letters:], "0123456789") == ""
		switch {
		case !shape:
			err = refused(words.Later("An identity has %d letters and %d digits. Look again and type all of them.", i.Letters, i.Digits))
		case len(i.Families) > 0 && !slices.Contains(i.Families, close[:i.Letters]):
			err = refused(words.Later("%s is no device family of this panel. Look again.", close[:i.Letters]))
		default:
			known = true
		}
	default:
		takes := p.Takes(n)
		if answer, known = text, slices.Contains(takes, text); !known {
			err = refused(words.Later("%s is no answer of this panel here (%s). There are: %s.", text, n.Shows, strings.Join(takes, ", ")))
		}
	}
	if err != nil && s.Sure {
		return cmp.Or(answer, text), false, nil
	}
	return answer, known, err
}

// parseWords reads words as their numbers, with or without the end, or as they are spoken.
func parseWords(p *panel.Profile, n panel.Node, text, close string, digits bool) (answer string, known bool, err error) {
	var numbers []string
	if !digits {
		for _, w := range strings.Fields(text) {
			numbers = append(numbers, wordNumber(p, n, w))
		}
	} else {
		for ; len(close) > n.Width; close = close[n.Width:] {
			numbers = append(numbers, close[:n.Width])
		}
		numbers = append(numbers, close)
	}
	if last := len(numbers) - 1; numbers[last] == n.End {
		numbers = numbers[:last]
	}
	answer = strings.Join(numbers, " ")
	if len(numbers) > p.Label.Words {
		return text, false, refused(words.Later("That is %d words; the panel says %d at most. Look again.", len(numbers), p.Label.Words))
	}
	for _, w := range numbers {
		if p.Word(w) == "" {
			return text, false, refused(words.Later("%s is no word of this panel. Look again.", w))
		}
	}
	return answer, true, nil
}

// wordNumber is the number of a word that was typed as its number or as it is spoken.
func wordNumber(p *panel.Profile, n panel.Node, text string) string {
	if number := p.Words[text]; number != "" {
		return number
	}
	return text
}

// parseSum reads a sum of three digits, with or without what stands in front of it.
func parseSum(says, text string) (string, error) {
	text = strings.TrimSpace(strings.TrimPrefix(tidy(text), strings.ToUpper(says)))
	if len(text) != 3 || strings.Trim(text, "0123456789") != "" {
		return "", refused(words.Later("The sum has three digits. Look again and type all of them."))
	}
	return text, nil
}

// parseMark reads the item that carries the mark; "" for none.
func parseMark(p *panel.Profile, c ReadCard, s Seen) (shown string, known bool, err error) {
	text := strings.TrimSpace(strings.TrimPrefix(tidy(s.Text), strings.ToUpper(p.Dialogue.Marks)))
	var there []string
	for _, o := range c.Options {
		if strings.EqualFold(tidy(o.Shows), text) {
			return o.Shows, true, nil
		}
		there = append(there, o.Shows)
	}
	switch {
	case text == "" || len(text) <= maxShown && s.Sure:
		return text, text == "", nil
	case len(text) > maxShown:
		return "", false, refused(words.Later("That is longer than a display. Type what stands beside %s.", c.Then))
	}
	return "", false, refused(words.Later("%s is no answer of this panel here (%s). There are: %s.", text, c.Then, strings.Join(there, ", ")))
}

// hint says how what stands at a prompt is written down.
func (r *reader) hint(n panel.Node) string {
	l := r.lang
	switch n.Form {
	case panel.FormNumber:
		return l.Say("%d digits.", n.Width)
	case panel.FormWords:
		return l.Say("Numbers of the words, or the words themselves.")
	case panel.FormWord:
		return l.Say("Number of the word, or the word itself; %s is none.", n.End)
	case panel.FormIdentity:
		return l.Say("%d letters and %d digits, all of them.", r.p.Identity.Letters, r.p.Identity.Digits)
	}
	return l.Say("Choose what stands there.")
}

// Means says an answer of a panel in plain words; "" where it stands for itself or the panel's description does not know
// it. The other answers of the zone tell kinds with one answer apart; nil when they are not known.
func Means(lang *words.Language, p *panel.Profile, f panel.Field, answer string, slots Slots) string {
	switch {
	case answer == "":
		return ""
	case f == panel.FieldKind:
		k, ok := p.KindOf(answer, slots[panel.FieldCode])
		if !ok {
			return ""
		}
		return kindSay(lang, k)
	case f == panel.FieldWords:
		var said []string
		for _, number := range strings.Fields(answer) {
			said = append(said, cmp.Or(p.Word(number), number))
		}
		return strings.Join(said, " ")
	case slices.Contains(p.Parts(panel.FieldWords), f):
		return cmp.Or(p.Word(answer), lang.Say("no word"))
	case f == panel.FieldArea:
		if v, ok := p.Value(f, answer); ok {
			return lang.Say("area %s", v)
		}
	}
	v, ok := p.Value(f, answer)
	if !ok || strings.EqualFold(v, answer) {
		return ""
	}
	return panel.SayValue(v).In(lang)
}

// Known reports whether the panel's description knows an answer of a field.
func Known(p *panel.Profile, f panel.Field, answer string) bool {
	for _, n := range p.Dialogue.Nodes {
		if n.Field == f && n.Form != "" && takes(p, n, answer) || slices.ContainsFunc(n.Items, func(i panel.Pick) bool { return i.Sets[f] == answer && answer != "" }) {
			return true
		}
	}
	return false
}
