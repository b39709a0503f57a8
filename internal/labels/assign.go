package labels

import (
	"maps"
	"slices"
)

// assign gives each zone one of its candidates, none to two, so that the sum of the costs is least; -1 where one has to go
// without. Least-cost assignment by shortest augmenting ways (the Hungarian method), exact; of equal sums the same is
// always taken.
func assign(opens []*open) []int {
	const without, never = 1_000, 1_000_000
	keys := map[string]int{}
	for _, o := range opens {
		for _, c := range o.candidates {
			keys[c.key] = 0
		}
	}
	for i, k := range slices.Sorted(maps.Keys(keys)) {
		keys[k] = i + 1
	}
	n, m := len(opens), len(keys)+len(opens) // the last columns stand for going without, one for each zone
	cost := make([][]int, n+1)
	for i, o := range opens {
		row := make([]int, m+1)
		for j := range row {
			row[j] = never
		}
		for _, c := range o.candidates {
			row[keys[c.key]] = min(row[keys[c.key]], c.cost)
		}
		row[len(keys)+1+i] = without
		cost[i+1] = row
	}
	u, w, holds, way := make([]int, n+1), make([]int, m+1), make([]int, m+1), make([]int, m+1)
	for i := 1; i <= n; i++ {
		holds[0] = i
		j := 0
		least := make([]int, m+1)
		for k := range least {
			least[k] = never * 10
		}
		done := make([]bool, m+1)
		for holds[j] != 0 {
			done[j] = true
			row, delta, next := holds[j], never*10, 0
			for k := 1; k <= m; k++ {
				if done[k] {
					continue
				}
				if c := cost[row][k] - u[row] - w[k]; c < least[k] {
					least[k], way[k] = c, j
				}
				if least[k] < delta {
					delta, next = least[k], k
				}
			}
			for k := 0; k <= m; k++ {
				if done[k] {
					u[holds[k]] += delta
					w[k] -= delta
				} else {
					least[k] -= delta
				}
			}
			j = next
		}
		for j != 0 {
			holds[j] = holds[way[j]]
			j = way[j]
		}
	}
	out := make([]int, n)
	for i := range out {
		out[i] = -1
	}
	for k := 1; k <= len(keys); k++ {
		if row := holds[k]; row > 0 {
			out[row-1] = slices.IndexFunc(opens[row-1].candidates, func(c candidate) bool { return keys[c.key] == k })
		}
	}
	return out
}
