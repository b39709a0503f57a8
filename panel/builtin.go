package panel

import (
	_ "embed"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"
)

//go:generate go run ../site/internal/schemagen panel . panel.schema.json
//go:generate go test -run TestBuiltinProfiles -update .

// profilesJSON is profiles/*.yaml as Decode reads and checks them, by name. The program holds this form, so that the
// engine in the browser does without a YAML decoder.
//
//go:embed profiles.gen.json
var profilesJSON []byte

var builtin = sync.OnceValue(func() map[string]json.RawMessage {
	var all map[string]json.RawMessage
	if err := json.Unmarshal(profilesJSON, &all); err != nil {
		panic("panel: profiles.gen.json: " + err.Error()) // generated and tested
	}
	return all
})

//go:embed panel.schema.json
var schema []byte

// Schema returns the JSON Schema (2020-12) of the profile's form, made from the types of this package.
func Schema() []byte { return slices.Clone(schema) }

// ErrUnknown matches the error of Builtin for a name that it does not have.
var ErrUnknown = errors.New("no such panel profile")

// Names returns the names of the built-in profiles, sorted.
func Names() []string { return slices.Sorted(maps.Keys(builtin())) }

// Builtin returns a profile that comes with the product. The error matches ErrUnknown and names those there are.
func Builtin(name string) (*Profile, error) {
	raw, ok := builtin()[name]
	if !ok {
		return nil, fmt.Errorf("panel %q: %w; there are: %s", name, ErrUnknown, strings.Join(Names(), ", "))
	}
	p := &Profile{}
	if err := json.Unmarshal(raw, p); err != nil {
		return nil, fmt.Errorf("panel %q: %w", name, err)
	}
	return p, nil
}
