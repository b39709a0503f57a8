package estimate

// FieldView is a computed field over one storey: what sound or radio is at each place. A planning
type FieldView struct {
	What    string     `json:"what"` // sound, radio
	Storey  string     `json:"storey"`
	Source  string     `json:"source"`  // JSON pointer of the only source that is shown; empty: all that act together
	Height  float64    `json:"height"`  // m above the storey's floor for which it is computed
	Min     [2]float64 `json:"min"`     // lower left corner of the first cell, m
	Step    float64    `json:"step"`    // side of a cell, m
	W       int        `json:"w"`       // cells along x
	H       int        `json:"h"`       // cells along y
	Bands   string     `json:"bands"`   // base64, a byte a cell, row by row from Min: index into Steps; 255 none
	Steps   []float64  `json:"steps"`   // lower bound of each band, rising
	Unit    string     `json:"unit"`    // dBA, dBm
	Wanted  *float64   `json:"wanted"`  // what is required, in Unit; null: differs by room or not known
	Contour []Contour  `json:"contour"` // lines at what is required; in rooms with another requirement at that one
	Label   string     `json:"label"`   // "Planning  Measure on site."
	Assumed []string   `json:"assumed"` // what was assumed, in words
	Missing []string   `json:"missing"` // what is missing, in words

	Terms []Term `json:"terms"`
}

// Contour is one line of equal value, in metres.
type Contour struct {
	Value  float64      `json:"value"`
	Line   [][2]float64 `json:"line"`
	Closed bool         `json:"closed"`
}

// SoundView says how loud the alarms arrive in every room and at every bed. A planning
type SoundView struct {
	Label   string     `json:"label"`
	Doors   string     `json:"doors"` // shut, open, as-drawn
	Rows    []SoundRow `json:"rows"`  // rooms in the order of the walk; the beds of a room after each other
	Assumed []string   `json:"assumed"`
	Missing []string   `json:"missing"`
	Fit     *SoundFit  `json:"fit"` // what measured values made of the model; null: none was measured

	Readings []ReadingRow `json:"readings"` // all that were entered and not taken away, oldest first
}

// ReadingRow is one reading of the job.
type ReadingRow struct {
	Entry string   `json:"entry"` // its id, for taking it away
	Say   string   `json:"say"`   // where, and of what
	Value float64  `json:"value"`
	Unit  string   `json:"unit"`
	When  string   `json:"when"`  // day, in words
	Out   string   `json:"out"`   // by what change it is out of date; empty: it counts
	Model *float64 `json:"model"` // what the fitted model says; null: not fitted to it
	Left  *float64 `json:"left"`  // measured less model, dB
}

// SoundRow is one room, or one bed of it.
type SoundRow struct {
	Room        string        `json:"room"`
	Name        string        `json:"name"`
	Storey      string        `json:"storey"`
	Bed         string        `json:"bed"`      // id; empty: the room as a whole
	At          *[3]float64   `json:"at"`       // of the bed
	Sleeping    bool          `json:"sleeping"` // required at the pillow
	Level       *float64      `json:"level"`    // dBA of the loudest that sounds together; null: not determined
	Sum         *float64      `json:"sum"`      // dBA of all together
	AtMost      *float64      `json:"atMost"`   // dBA that may arrive where somebody stands, for the upper limit
	Required    *float64      `json:"required"` // dBA
	RequiredSay string        `json:"requiredSay"`
	Margin      *float64      `json:"margin"`      // dB
	Uncertainty float64       `json:"uncertainty"` // ± dB
	Verdict     Verdict       `json:"verdict"`
	Loud        bool          `json:"loud"`    // more may arrive than the upper limit
	Say         string        `json:"say"`     // the verdict in words
	Carries     string        `json:"carries"` // JSON pointer of the sounder that carries the room
	CarriesSay  string        `json:"carriesSay"`
	Without     *SoundWithout `json:"without"`   // if that one fails; null: nothing carries it
	Measured    *float64      `json:"measured"`  // newest reading here that counts, dBA
	OutSay      string        `json:"outSay"`    // a reading here that is out of date, and by what change; empty: none
	ByReading   bool          `json:"byReading"` // margin and verdict are of that reading, not of the level
	Missing     []string      `json:"missing"`
	Terms       []Term        `json:"terms"`
}

// SoundWithout is a row as it is when the sounder that carries it fails.
type SoundWithout struct {
	Level      *float64 `json:"level"`
	Margin     *float64 `json:"margin"`
	Verdict    Verdict  `json:"verdict"`
	Say        string   `json:"say"`
	CarriesSay string   `json:"carriesSay"` // who carries it then; empty: nobody
}

// SoundFit is what measured values made of the model.
type SoundFit struct {
	Readings   int           `json:"readings"`
	Parameters []FitRow      `json:"parameters"`
	Residuals  []FitResidual `json:"residuals"`
	Spread     float64       `json:"spread"` // standard deviation of the residuals, dB
	Say        string        `json:"say"`
}

// FitRow is one parameter with its 95 % confidence interval.
type FitRow struct {
	Name  string  `json:"name"`
	Value float64 `json:"value"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
	Unit  string  `json:"unit"`
}

// FitResidual is one reading beside what the fitted model says.
type FitResidual struct {
	Entry    string  `json:"entry"`
	Say      string  `json:"say"`
	Measured float64 `json:"measured"`
	Model    float64 `json:"model"`
	Left     float64 `json:"left"` // measured less model, dB
}
