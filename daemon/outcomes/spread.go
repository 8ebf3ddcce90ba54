package outcomes

import (
	"cmp"
	"math"
	"slices"
)

// weighted is a value that n patients have.
type weighted struct {
	value float64
	n     int
}

// spreadOf gives the median and the quartiles, or nil for nobody. It sorts.
func spreadOf(values []weighted) *Spread {
	slices.SortFunc(values, func(a, b weighted) int { return cmp.Compare(a.value, b.value) })
	n := 0
	for _, v := range values {
		n += v.n
	}
	if n == 0 {
		return nil
	}
	return &Spread{N: n, Q1: quantile(values, n, 0.25), Median: quantile(values, n, 0.5), Q3: quantile(values, n, 0.75)}
}

// quantile reads the value at share q of n sorted ones.
func quantile(values []weighted, n int, q float64) float64 {
	whole, part := math.Modf(float64(n-1) * q)
	low := nth(values, int(whole))
	if part == 0 {
		return low
	}
	return low + part*(nth(values, int(whole)+1)-low)
}

// nth is the value of the patient with number i, from 0.
func nth(values []weighted, i int) float64 {
	for _, v := range values {
		if i < v.n {
			return v.value
		}
		i -= v.n
	}
	return 0 // i is always under the number of patients
}

// spreadAll is the spread of one value a patient.
func spreadAll(values []float64) *Spread {
	all := make([]weighted, len(values))
	for i, v := range values {
		all[i] = weighted{v, 1}
	}
	return spreadOf(all)
}

// percent of a whole that is not 0.
func percent(part, whole int) float64 { return 100 * float64(part) / float64(whole) }

// weekShares counts patients by how many of the 7 dates of a week counted, and
// how much of them, in halves where halves are counted.
type weekShares [8][15]int32

func (w *weekShares) add(part, whole int) {
	if whole > 0 {
		w[whole][part]++
	}
}

// spread gives the shares in percent; unit is what one whole date counts: 1,
// or 2 halves.
func (w *weekShares) spread(unit int) *Spread {
	var values []weighted
	for whole := range w {
		for part, n := range w[whole] {
			if n > 0 {
				values = append(values, weighted{percent(part, unit*whole), int(n)})
			}
		}
	}
	return spreadOf(values)
}
