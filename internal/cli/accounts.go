package cli

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"

	"proofbell/signal"
)

// account is what an accounts file says of one account.
type account struct {
	number      string // capitals
	prefix      string // without L and leading zeros; "": any
	secret      signal.Secret
	supervision time.Duration // something has to arrive as often; 0: not watched
}

// The bounds of an accounts file.
const (
	largestAccounts = 256 << 10
	mostAccounts    = 2000
)

// accountsReader gathers what is wrong with a file, each with its place. No text of the file is repeated in it but names:
// a key may stand anywhere.
type accountsReader struct {
	file  string
	wrong []error
}

// readAccounts reads an accounts file (docs/cli.md). The error names every place that is wrong, as FILE:LINE:COLUMN.
func readAccounts(file string, raw []byte) (found map[string]account, err error) {
	// The parser is not ours: should it panic on some text, that text is refused like any other that can not be read.
	defer func() {
		if p := recover(); p != nil {
			found, err = nil, fmt.Errorf("%s:1:1: this can not be read as YAML: look for an odd indentation, quote or bracket", file)
		}
	}()
	r := accountsReader{file: file}
	if len(raw) > largestAccounts {
		return nil, fmt.Errorf("%s: more than %d kB, this can not be an accounts file", file, largestAccounts>>10)
	}
	if strings.Count(string(raw), "[")+strings.Count(string(raw), "{") > 2*mostAccounts { // the parser recurses
		return nil, fmt.Errorf("%s: too many brackets for an accounts file", file)
	}
	tree, err := parser.ParseBytes(raw, 0)
	if err != nil {
		place := &token.Token{Position: &token.Position{Line: 1, Column: 1}}
		if at := yaml.Error(nil); errors.As(err, &at) && at.GetToken() != nil {
			place = at.GetToken()
		}
		r.say(place, "this can not be read as YAML: look at the indentation, the colons and the quotes here, and for a name that stands twice")
		return nil, r.wrong[0]
	}
	if len(tree.Docs) != 1 || tree.Docs[0].Body == nil {
		return nil, fmt.Errorf("%s:1:1: it holds no accounts: write accounts: {\"4816\": {}}", file)
	}
	found = map[string]account{}
	if m := r.members(tree.Docs[0].Body, "the file", "accounts")["accounts"]; m != nil {
		for _, v := range r.list(m, "accounts") {
			if a, ok := r.account(v); ok {
				if _, twice := found[a.number]; twice {
					r.say(v.Key.GetToken(), "account %s stands here a second time", a.number)
				}
				found[a.number] = a
			}
		}
	}
	if len(r.wrong) == 0 && len(found) == 0 {
		r.say(tree.Docs[0].Body.GetToken(), "it names no account: write accounts: {\"4816\": {}}")
	}
	if len(found) > mostAccounts {
		r.wrong = append(r.wrong, fmt.Errorf("%s: %d accounts, at most %d", file, len(found), mostAccounts))
	}
	return found, errors.Join(r.wrong...)
}

func (r *accountsReader) say(t *token.Token, format string, args ...any) {
	r.wrong = append(r.wrong, fmt.Errorf("%s:%d:%d: %s", r.file, t.Position.Line, t.Position.Column, fmt.Sprintf(format, args...)))
}

// list returns the members of a mapping in their order; what is an empty value has none.
func (r *accountsReader) list(n ast.Node, what string) []*ast.MappingValueNode {
	switch n := n.(type) {
	case *ast.MappingNode:
		return n.Values
	case *ast.MappingValueNode:
		return []*ast.MappingValueNode{n}
	case *ast.NullNode:
		return nil
	}
	r.say(n.GetToken(), "%s: write members with a colon here, or {}", what)
	return nil
}

// members returns the members of a mapping by name; only the known ones may be there, each once.
func (r *accountsReader) members(n ast.Node, what string, known ...string) map[string]ast.Node {
	by := map[string]ast.Node{}
	for _, v := range r.list(n, what) {
		name := v.Key.GetToken()
		switch {
		case !slices.Contains(known, name.Value):
			r.say(name, "%s has no such member: there are %s", what, strings.Join(known, ", "))
		case by[name.Value] != nil:
			r.say(name, "%s stands here a second time", name.Value)
		default:
			by[name.Value] = v.Value
		}
	}
	return by
}

// scalar returns a plain value as it was typed: 0012 stays 0012.
func (r *accountsReader) scalar(n ast.Node, want string) (string, bool) {
	switch n.(type) {
	case *ast.StringNode, *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode:
		return n.GetToken().Value, true
	}
	r.say(n.GetToken(), "want %s: write it behind the colon, with no brackets or line of its own", want)
	return "", false
}

func (r *accountsReader) account(v *ast.MappingValueNode) (account, bool) {
	name := v.Key.GetToken()
	a := account{number: strings.ToUpper(name.Value)}
	if !hexDigits(a.number, 16) {
		r.say(name, "an account has 1 to 16 digits 0-9 and A-F")
		return a, false
	}
	what := "account " + a.number
	before := len(r.wrong)
	known := []string{"key", "prefix", "encrypted-only", "supervision"}
	members := r.members(v.Value, what, known...)
	for _, member := range known {
		n := members[member]
		if n == nil {
			continue
		}
		text, ok := r.scalar(n, "one value for "+member)
		if !ok {
			continue
		}
		var err error
		switch member {
		case "key":
			a.secret.Key, err = signal.ParseKey(text)
		case "prefix":
			if a.prefix = prefixOf(text); !hexDigits(a.prefix, 6) {
				err = errors.New("a prefix is L and 1 to 6 digits 0-9 and A-F, as in L0")
			}
		case "encrypted-only":
			if a.secret.EncryptedOnly = text == "true"; !a.secret.EncryptedOnly && text != "false" {
				err = errors.New("write true or false")
			}
		case "supervision":
			if a.supervision, err = time.ParseDuration(text); err != nil || a.supervision < time.Second {
				err = errors.New("write how often something has to arrive, as 90s, 30m or 24h")
			}
		}
		if err != nil {
			r.say(n.GetToken(), "%s, %s: %v", what, member, err)
		}
	}
	if a.secret.EncryptedOnly && a.secret.Key.IsZero() && len(r.wrong) == before {
		r.say(name, "%s: encrypted-only needs a key", what)
	}
	return a, len(r.wrong) == before
}

// prefixOf is a prefix as accounts compare it: L, L0 and L00 are one.
func prefixOf(text string) string {
	digits := strings.TrimLeft(strings.TrimPrefix(strings.ToUpper(text), "L"), "0")
	if digits == "" {
		return "0"
	}
	return digits
}

func hexDigits(s string, most int) bool {
	return len(s) > 0 && len(s) <= most && strings.Trim(s, "0123456789ABCDEF") == ""
}
