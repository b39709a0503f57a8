// Package sorts orders lists by a comparison, as slices.SortFunc does. That one copies its code for every type it sorts,
// 0.8 MB of WebAssembly in this program; the engine travels over the wire, so its packages share one copy here.
package sorts

import "sort"

type by[T any] struct {
	list []T
	cmp  func(a, b T) int
}

func (s by[T]) Len() int           { return len(s.list) }
func (s by[T]) Less(i, j int) bool { return s.cmp(s.list[i], s.list[j]) < 0 }
func (s by[T]) Swap(i, j int)      { s.list[i], s.list[j] = s.list[j], s.list[i] }

// By orders a list in place; what cmp calls equal may change places.
func By[T any](list []T, cmp func(a, b T) int) { sort.Sort(by[T]{list, cmp}) }

// Stable orders a list in place and keeps the order of what cmp calls equal.
func Stable[T any](list []T, cmp func(a, b T) int) { sort.Stable(by[T]{list, cmp}) }
