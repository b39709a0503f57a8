package site

import (
	"cmp"
	"maps"
	"slices"
	"strings"
)

// SortedIDs returns the ids of a collection in natural order.
func SortedIDs[K ~string, V any](m map[K]V) []K {
	return slices.SortedFunc(maps.Keys(m), func(a, b K) int { return NaturalOrder(string(a), string(b)) })
}

// NaturalOrder compares ids as people do: runs of digits count as numbers, so that "2" comes before "10" and "M9"
// before "M10". Texts that differ only in leading zeros are ordered by their bytes, so that no two ids are equal.
func NaturalOrder(a, b string) int {
	x, y := a, b
	for x != "" && y != "" {
		n, m := digits(x), digits(y)
		if n > 0 && m > 0 {
			p, q := strings.TrimLeft(x[:n], "0"), strings.TrimLeft(y[:m], "0")
			if c := cmp.Or(cmp.Compare(len(p), len(q)), cmp.Compare(p, q)); c != 0 {
				return c
			}
			x, y = x[n:], y[m:]
			continue
		}
		if c := cmp.Compare(x[0], y[0]); c != 0 {
			return c
		}
		x, y = x[1:], y[1:]
	}
	return cmp.Or(cmp.Compare(len(x), len(y)), cmp.Compare(a, b))
}

func digits(s string) int {
	n := 0
	for n < len(s) && s[n] >= '0' && s[n] <= '9' {
		n++
	}
	return n
}
