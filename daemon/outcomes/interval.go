package outcomes

import "gonum.org/v1/gonum/stat/distuv"

const tail = 0.025 // on either side of a 95 % interval

// exact is the interval of Clopper and Pearson for x hits in n, as shares. Both
// may be fractions, as an effective number of days is.
func exact(x, n float64) (low, high float64) {
	low, high = 0, 1
	if x > 0 {
		low = distuv.Beta{Alpha: x, Beta: n - x + 1}.Quantile(tail)
	}
	if x < n {
		high = distuv.Beta{Alpha: x + 1, Beta: n - x}.Quantile(1 - tail)
	}
	return low, high
}

// sample sums days and hits over patients, with the squares that the spread
// between patients is read off. Whole numbers: the order of adding is nothing.
type sample struct {
	patients, days, hits int
	hh, hd, dd           int // sums of hits², hits × days, days²
}

func (s *sample) add(days, hits int) {
	if days == 0 {
		return
	}
	s.patients++
	s.days += days
	s.hits += hits
	s.hh += hits * hits
	s.hd += hits * days
	s.dd += days * days
}

// effect is the design effect: the variance of the rate with patients drawn
// and their days with them (the ratio estimator), over that of as many days
// drawn one by one. Fewer than one is not believed: patients are never less
// alike within than between but by chance. Two patients at least.
func (s *sample) effect() float64 {
	if s.hits == 0 || s.hits == s.days {
		return 1
	}
	m, n := float64(s.patients), float64(s.days)
	p := float64(s.hits) / n
	clustered := m / (m - 1) * (float64(s.hh) - 2*p*float64(s.hd) + p*p*float64(s.dd)) / (n * n)
	return max(1, clustered*(n-1)/(p*(1-p)))
}

// rate gives hits per hundred days; nil for no days.
func (s *sample) rate() *Rate {
	if s.days == 0 {
		return nil
	}
	r := &Rate{Per100: percent(s.hits, s.days), Low: 0, High: 100, Effect: 1}
	if s.patients < 2 {
		return r
	}
	r.Effect = s.effect()
	n := float64(s.days)
	ratio := tQuantile(n-1) / tQuantile(float64(s.patients-1))
	few := n / r.Effect * ratio * ratio
	if few < 1 {
		return r // less than one day's worth
	}
	low, high := exact(few*(float64(s.hits)/n), few) // all hits: few times 1, without a rest
	r.Low, r.High = 100*low, 100*high
	return r
}

// tQuantile is the quantile of Student's distribution that bounds the upper tail.
func tQuantile(freedom float64) float64 {
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: freedom}.Quantile(1 - tail)
}
