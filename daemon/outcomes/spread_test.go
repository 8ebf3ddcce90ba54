package outcomes

import (
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"
)

// Examples from documentation: pandas, Series.quantile, and Power Query's
// List.Percentile, which follows a spreadsheet's PERCENTILE.INC.
func TestQuartilesOfPublishedExamples(t *testing.T) {
	if got := *spreadAll([]float64{1, 2, 3, 4}); got != (Spread{4, 1.75, 2.5, 3.25}) {
		t.Errorf("%+v", got)
	}
	if got := spreadAll([]float64{5, 3, 1, 7, 9}); got.Q1 != 3 {
		t.Errorf("%+v", got)
	}
	if got := *spreadAll([]float64{80}); got != (Spread{1, 80, 80, 80}) {
		t.Errorf("%+v", got)
	}
	if got := spreadAll(nil); got != nil {
		t.Errorf("%+v of nobody", got)
	}
}

// The library's linear interpolation is type 4, which puts share q at value
// number nq; type 7 puts it at (n-1)q+1.
func TestQuartilesAgainstALibrary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.Float64Range(0, 100), 1, 60).Draw(t, "values")
		got, n := spreadAll(values), float64(len(values))
		slices.Sort(values)
		for _, c := range []struct{ q, value float64 }{{0.25, got.Q1}, {0.5, got.Median}, {0.75, got.Q3}} {
			want := stat.Quantile(((n-1)*c.q+1)/n, stat.LinInterp, values, nil)
			if math.Abs(c.value-want) > 1e-9 {
				t.Fatalf("at %v: %v, the library says %v", c.q, c.value, want)
			}
		}
	})
}

func TestWeekSharesCountWholeAndHalfDates(t *testing.T) {
	var w weekShares
	w.add(0, 0)  // nothing due: not counted
	w.add(14, 7) // all
	w.add(7, 7)  // half
	w.add(3, 3)  // the same half, of three dates
	if got := *w.spread(2); got != (Spread{3, 50, 50, 75}) {
		t.Errorf("%+v", got)
	}
}
