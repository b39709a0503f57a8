package engine

import (
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"strconv"
	"strings"

	"rsc.io/qr"

	"proofbell/internal/words"
	"proofbell/site"
)

// Stickers is a sheet of stickers to print. A sticker carries an address with a token and nothing else: who finds one
// learns neither the building nor the account from it.
type Stickers struct {
	List  []Sticker       `json:"list"`
	Patch json.RawMessage `json:"patch"` // gives a token to what has none; null: everything has one
	New   int             `json:"new"`   // how many that are
}

// Sticker is one of them.
type Sticker struct {
	About string `json:"about"` // JSON pointer; "" the lid of the panel
	Say   string `json:"say"`
	More  string `json:"more"`
	Token string `json:"token"`
	URL   string `json:"url"`
	Size  int    `json:"size"` // modules of the code along one side, with its quiet edge
	Path  string `json:"path"` // the dark modules, as an SVG path
}

const (
	tokenLetters = "0123456789ABCDEFGHJKMNPQRSTVWXYZ" // 32 signs that are not taken for each other
	quiet        = 4                                  // modules of light edge that the standard wants (ISO/IEC 18004)
)

// Stickers lays out the sheet. random is at least 32 random bytes, base64url, for new tokens; "" makes none. origin is
// the address under which this server is found, like https://192.0.2.7:8443.
func (d *Desk) Stickers(random, origin string) (Stickers, error) {
	seed, err := base64.RawURLEncoding.DecodeString(random)
	if err != nil || random != "" && len(seed) < 32 {
		return Stickers{}, &Problem{Code: "bad-request", Say: words.Mark("The call brings too few random bytes."), Try: words.Mark("Reload the page.")}
	}
	s := d.State.Site
	v := Stickers{List: []Sticker{}}
	taken := map[site.Token]bool{s.Sticker: true}
	for _, dev := range s.Devices {
		taken[dev.Sticker] = true
	}
	for _, h := range s.Heads {
		taken[h.Sticker] = true
	}
	fresh := func(about string) site.Token {
		for n := byte(0); ; n++ {
			sum := sha256.Sum256(append(append([]byte(about), 0, n), seed...))
			text := make([]byte, 0, 9)
			for i, b := range sum[:8] {
				if i == 4 {
					text = append(text, '-')
				}
				text = append(text, tokenLetters[b%32])
			}
			if t := site.Token(text); !taken[t] {
				taken[t] = true
				return t
			}
		}
	}
	patch := map[string]any{}
	give := func(about string, token site.Token) site.Token {
		if token != "" || random == "" {
			return token
		}
		token = fresh(about)
		v.New++
		kind, id, below := strings.Cut(strings.TrimPrefix(about, "/"), "/")
		if !below {
			patch["sticker"] = token
			return token
		}
		of, _ := patch[kind].(map[string]any)
		if of == nil {
			of = map[string]any{}
			patch[kind] = of
		}
		of[id] = map[string]any{"sticker": token}
		return token
	}
	for _, line := range d.Index() {
		if seen := line.About != "" && line.Token == "" && !d.first(line); seen {
			continue // another zone of a device that has its sticker already
		}
		one := Sticker{About: line.About, Say: line.Say, More: line.More}
		if line.About == "" {
			one.More = d.lang.Say("Inside the lid of the panel")
		}
		if one.Token = string(give(line.About, site.Token(line.Token))); one.Token != "" {
			one.URL = strings.TrimRight(origin, "/") + "/s/" + one.Token
			if err := one.draw(); err != nil {
				return v, &Problem{Code: "bad-request", Say: words.Mark("This address is too long for a sticker."), Try: words.Mark("Give a shorter one."), Err: err}
			}
		}
		v.List = append(v.List, one)
	}
	if v.New > 0 {
		v.Patch, err = json.Marshal(patch)
	}
	return v, err
}

// first reports whether a line of the index is the first of its device.
func (d *Desk) first(line FindLine) bool {
	id, isDevice := strings.CutPrefix(line.About, "/devices/")
	if !isDevice {
		return true
	}
	zones := d.State.Site.ZonesOf(site.DeviceID(id))
	return len(zones) == 0 || strings.HasPrefix(line.Say, string(zones[0])+" ")
}

// draw makes the code of the sticker's address.
func (s *Sticker) draw() error {
	code, err := qr.Encode(s.URL, qr.M)
	if err != nil {
		return err
	}
	var b strings.Builder
	for y := range code.Size {
		for x := 0; x < code.Size; x++ {
			run := x
			for run < code.Size && code.Black(run, y) {
				run++
			}
			if run > x {
				b.WriteString("M" + strconv.Itoa(x+quiet) + " " + strconv.Itoa(y+quiet) + "h" + strconv.Itoa(run-x) + "v1H" + strconv.Itoa(x+quiet) + "z")
				x = run
			}
		}
	}
	s.Size, s.Path = code.Size+2*quiet, b.String()
	return nil
}
