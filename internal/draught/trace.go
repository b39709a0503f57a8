package draught

import "proofbell/geom"

// Trace says what a drawing is traced over: a picture under the plan, and how it lies there.
type Trace struct {
	Blob   string       `json:"blob"`             // content address of the picture
	Width  int          `json:"width"`            // pixels
	Height int          `json:"height"`           // pixels
	Pixels []geom.Point `json:"pixels,omitempty"` // two places in the picture, in pixels from its upper left corner, x right and y down, that are Length apart
	Length string       `json:"length,omitempty"` // their true distance, as typed
	Level  bool         `json:"level,omitempty"`  // turn it so that the line between them lies along an axis of the plan
	Turn   *float64     `json:"turn,omitempty"`   // degrees anticlockwise; nil: as it is
	Off    bool         `json:"off,omitempty"`    // take the picture away
}
