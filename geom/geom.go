// Package geom is plane geometry for building plans: points, segments, polygons, crossings and distances.
//
// Coordinates are metres in one right-handed frame per building: x to the right of the drawing, y up the drawing.
// Values do not change after construction. A half-drawn plan must be storable, so building and checking are two steps.
package geom

import "math"

// Point is a place on a storey, in metres.
type Point struct{ X, Y float64 }

// Sub returns p - q.
func (p Point) Sub(q Point) Point { return Point{p.X - q.X, p.Y - q.Y} }

// Add returns p + q.
func (p Point) Add(q Point) Point { return Point{p.X + q.X, p.Y + q.Y} }

// Scale returns p times f.
func (p Point) Scale(f float64) Point { return Point{p.X * f, p.Y * f} }

// Distance returns the distance between p and q in metres.
func (p Point) Distance(q Point) float64 { return math.Hypot(p.X-q.X, p.Y-q.Y) }

// Segment is a straight line between two points.
type Segment struct{ A, B Point }

// Polygon is a closed outline without repeated last point. Orientation may be either way.
type Polygon []Point
