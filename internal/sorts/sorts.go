// Package sorts orders lists by a comparison, as slices.SortFunc does. That one copies its code for every type it sorts,
// 0.8 MB of WebAssembly in this program; the engine travels over the wire, so its packages share one copy here.
package sorts

import "sort"

// order is sort.Interface with nothing of the element's type in its methods: methods of a generic type are made anew for
// each type, and their wrappers with them.
type order struct {
	length int
	less   func(i, j int) bool
	swap   func(i, j int)
}

func (o *order) Len() int           { return o.length }
func (o *order) Less(i, j int) bool { return o.less(i, j) }
func (o *order) Swap(i, j int)      { o.swap(i, j) }

func of[T any](list []T, cmp func(a, b T) int) *order {
	return &order{
		len(list),
		func(i, j int) bool { return cmp(list[i], list[j]) < 0 },
		func(i, j int) { list[i], list[j] = list[j], list[i] },
	}
}

// By orders a list in place; what cmp calls equal may change places.
func By[T any](list []T, cmp func(a, b T) int) { sort.Sort(of(list, cmp)) }

// Stable orders a list in place and keeps the order of what cmp calls equal.
func Stable[T any](list []T, cmp func(a, b T) int) { sort.Stable(of(list, cmp)) }
