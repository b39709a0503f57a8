package site

import (
	"maps"
	"slices"
)

// SortedIDs returns the ids of a collection in natural order.
func SortedIDs[K ~string, V any](m map[K]V) []K {
	return slices.SortedFunc(maps.Keys(m), func(a, b K) int { return NaturalOrder(string(a), string(b)) })
}
