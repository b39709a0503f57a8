package book

import (
	"encoding/json"
	"fmt"
	"maps"

	"proofbell/evidence"
	"proofbell/internal/words"
	"proofbell/panel"
)

// ProfileBody brings a panel profile into the job, in place of the built-in one of its name, or takes it out again.
type ProfileBody struct {
	Profile   *panel.Profile `json:"profile,omitempty"`
	Withdrawn string         `json:"withdrawn,omitempty"` // name of the profile that counts no more
}

// checkProfile takes only a profile that can program every zone it claims to hold: sheets, rehearsals and proofs go by it.
func checkProfile(raw json.RawMessage) error {
	if len(raw) > panel.MaxFile {
		return fmt.Errorf("profile: %d bytes, want at most %d", len(raw), panel.MaxFile)
	}
	var b ProfileBody
	if err := strict(raw, &b); err != nil {
		return err
	}
	if (b.Profile == nil) == (b.Withdrawn == "") {
		return fmt.Errorf("profile: want a profile, or the name of one that is withdrawn")
	}
	if b.Profile != nil {
		if faults := b.Profile.Check(); len(faults) > 0 {
			return &words.Error{Say: words.Later("the panel profile can not be used: %s", faults[0].Say), Try: words.Later("mend it and choose the file again: each fault is named there with its line")}
		}
	}
	return nil
}

func (s *State) useProfile(e evidence.Entry) words.Text {
	var b ProfileBody
	if err := checkProfile(e.Body); err != nil {
		return s.trouble(e, words.Said(err))
	}
	if err := json.Unmarshal(e.Body, &b); err != nil {
		return s.trouble(e, words.Said(err))
	}
	name, say := b.Withdrawn, words.Later("Panel profile %s taken out", b.Withdrawn)
	s.Profiles = maps.Clone(s.Profiles)
	if b.Profile == nil {
		delete(s.Profiles, name)
	} else {
		if s.Profiles == nil {
			s.Profiles = map[string]*panel.Profile{}
		}
		name = b.Profile.Name
		s.Profiles[name] = b.Profile
		say = words.Later("Panel profile %s %s taken in", name, b.Profile.Version)
	}
	s.Panel.change(s.moment(e, ""), name) // what was read out or keyed was in the terms of another dialogue
	return say
}
