package outcomes

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func near(t *testing.T, what string, got, want, by float64) {
	t.Helper()
	if !(math.Abs(got-want) <= by) {
		t.Errorf("%s is %.9f, want %.9f", what, got, want)
	}
}

// A published worked example: 682 of 925 plants (Conover WJ, Practical
// Nonparametric Statistics, 1971, p. 97), for which the documentation of R's
// binom.test, "a procedure first given in Clopper and Pearson (1934)", prints
// 0.7076683 and 0.7654066.
func TestExactAgainstAPublishedExample(t *testing.T) {
	low, high := exact(682, 925)
	near(t, "low", low, 0.7076683, 5e-8)
	near(t, "high", high, 0.7654066, 5e-8)
}

// The definition, by summing the binomial: with the low limit as many hits or
// more come in 2.5 percent, with the high limit as many or fewer.
func TestExactAgainstTheBinomialSummed(t *testing.T) {
	for n := 1; n <= 60; n++ {
		for x := 0; x <= n; x++ {
			low, high := exact(float64(x), float64(n))
			if x == 0 && low != 0 || x == n && high != 1 {
				t.Fatalf("%d of %d: %v to %v", x, n, low, high)
			}
			if x > 0 {
				near(t, "upper tail at the low limit", binomial(n, x, n, low), tail, 1e-9)
			}
			if x < n {
				near(t, "lower tail at the high limit", binomial(n, 0, x, high), tail, 1e-9)
			}
		}
	}
}

// binomial is the chance of from to to hits in n.
func binomial(n, from, to int, p float64) float64 {
	sum := 0.0
	for x := from; x <= to; x++ {
		ways := 1.0
		for i := range x {
			ways *= float64(n-i) / float64(x-i)
		}
		sum += ways * math.Pow(p, float64(x)) * math.Pow(1-p, float64(n-x))
	}
	return sum
}

// Where each patient has one day nothing is clustered, and what is left is the
// interval of Clopper and Pearson.
func TestOneDayAPatientIsTheExactInterval(t *testing.T) {
	for n := 2; n <= 40; n++ {
		for x := 0; x <= n; x++ {
			var s sample
			for i := range n {
				hit := 0
				if i < x {
					hit = 1
				}
				s.add(1, hit)
			}
			low, high := exact(float64(x), float64(n))
			r := s.rate()
			near(t, "effect", r.Effect, 1, 1e-9)
			near(t, "low", r.Low, 100*low, 1e-7)
			near(t, "high", r.High, 100*high, 1e-7)
		}
	}
}

// Worked by hand: five patients of ten days with 0 to 4 hits. The squares of
// hits less 2 sum to 10, the variance of the rate is 5/4 x 10/2500 = 0.005, of
// fifty days drawn one by one it is 0.2 x 0.8/49, so the effect is 1.53125.
// t at 0.975 is 2.010 with 49 and 2.776 with 4 degrees of freedom
// (NIST/SEMATECH e-Handbook of Statistical Methods, table 1.3.6.7.2, from
// memory): about 17.1 days are left, 3.42 of them hits.
func TestAlikeDaysWidenTheInterval(t *testing.T) {
	var s sample
	for hits := range 5 {
		s.add(10, hits)
	}
	r := s.rate()
	near(t, "rate", r.Per100, 20, 1e-12)
	near(t, "effect", r.Effect, 1.53125, 1e-12)
	near(t, "t, 49", tQuantile(49), 2.010, 5e-4)
	near(t, "t, 4", tQuantile(4), 2.776, 5e-4)
	days := 50 / 1.53125 * math.Pow(2.0096/2.7764, 2)
	hits := days / 5
	near(t, "chance under the low limit", betaUnder(r.Low/100, hits, days-hits+1), tail, 1e-5)
	near(t, "chance over the high limit", 1-betaUnder(r.High/100, hits+1, days-hits), tail, 1e-5)
}

// betaUnder is the beta distribution up to x, by Simpson's rule.
func betaUnder(x, a, b float64) float64 {
	area := func(to float64) float64 {
		const steps = 20000
		h, sum := to/steps, 0.0
		for i := range steps + 1 {
			weight := 2.0
			switch {
			case i == 0 || i == steps:
				weight = 1
			case i%2 == 1:
				weight = 4
			}
			v := h * float64(i)
			sum += weight * math.Pow(v, a-1) * math.Pow(1-v, b-1)
		}
		return sum * h / 3
	}
	return area(x) / area(1)
}

// With one patient there is no spread between patients to go by.
func TestOnePatientTellsNothing(t *testing.T) {
	var s sample
	s.add(84, 3)
	if r := s.rate(); r.Low != 0 || r.High != 100 {
		t.Errorf("%+v", r)
	}
	// Nor with two of which one always hurts: less than a day's worth is left.
	s = sample{}
	s.add(1000, 1000)
	s.add(1000, 0)
	if r := s.rate(); r.Low != 0 || r.High != 100 {
		t.Errorf("%+v", r)
	}
	if r := new(sample).rate(); r != nil {
		t.Errorf("no days: %+v", r)
	}
}

func TestTheIntervalHoldsTheRate(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var s sample
		most := rapid.SampledFrom([]int{1, 7, 84, 2000, 100000}).Draw(t, "most")
		days := rapid.SliceOfN(rapid.IntRange(0, most), 1, 40).Draw(t, "days")
		share := rapid.SampledFrom([]int{0, 1, 50, 100}).Draw(t, "percent of days at most")
		for _, n := range days {
			s.add(n, rapid.IntRange(0, n*share/100).Draw(t, "hits"))
		}
		r := s.rate()
		if s.days == 0 {
			if r != nil {
				t.Fatalf("%+v of no days", r)
			}
			return
		}
		if !(0 <= r.Low && r.Low <= r.Per100 && r.Per100 <= r.High && r.High <= 100 && r.Effect >= 1) {
			t.Fatalf("%+v of %+v", r, s)
		}
		low, high := exact(float64(s.hits), float64(s.days))
		if r.Low > 100*low+1e-9 || r.High < 100*high-1e-9 {
			t.Fatalf("%+v is narrower than of days that are not alike, %v to %v", r, low, high)
		}
	})
}

// The sums give what going over the patients gives.
func TestTheDesignEffectFromItsDefinition(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		days := rapid.SliceOfN(rapid.IntRange(1, 90), 2, 30).Draw(t, "days")
		hits := make([]int, len(days))
		var s sample
		for i, n := range days {
			hits[i] = rapid.IntRange(0, n).Draw(t, "hits")
			s.add(n, hits[i])
		}
		if s.hits == 0 || s.hits == s.days {
			return
		}
		p, m, n := float64(s.hits)/float64(s.days), float64(len(days)), float64(s.days)
		squares := 0.0
		for i := range days {
			off := float64(hits[i]) - p*float64(days[i])
			squares += off * off
		}
		want := max(1, m/(m-1)*squares/(n*n)/(p*(1-p)/(n-1)))
		if got := s.effect(); math.Abs(got-want) > 1e-9*want {
			t.Fatalf("%v, want %v", got, want)
		}
	})
}
