package vine

import (
	"errors"
	"math"
	"testing"

	"budward/vineyard/farm"
)

// Want: C3's formula worked by hand: k1 0.4, k2 0.1, k3 0, r2 0.32, r3 0.05:
// 0.6 + 0.4*0.9*0.32 + 0.4*0.1*0.05 = 0.6 + 0.1152 + 0.002 = 0.7172.
func TestCropFraction(t *testing.T) {
	got, err := CropFraction(0.4, 0.1, 0, 0.32, 0.05)
	if err != nil || math.Abs(got-0.7172) > sums {
		t.Errorf("crop = %v, %v; want 0.7172", got, err)
	}
	for _, k := range [][5]float64{{-0.1}, {1.1}, {0, math.NaN()}, {0, 0, 2}, {0, 0, 0, -1}, {0, 0, 0, 0, 3}} {
		if _, err := CropFraction(k[0], k[1], k[2], k[3], k[4]); !errors.As(err, new(*InputError)) {
			t.Errorf("%v: %v", k, err)
		}
	}
}

// killAt kills the primaries from a step on, whole, and nothing else.
func killAt(l Ledger, from Step) Ledger {
	for i, co := range l.Cohorts {
		if co.Step >= from {
			l.Cohorts[i].Leads = []Lead{{Secondary, FullSwell, 1}}
		}
	}
	return l
}

// Common practice: a frost with 40 % of the shoots green and killed and the rest
// woolly leaves 60 to 70 % of the crop (primaries lost, less what secondaries
// give); with all green, clusters out and killed, it is a disaster, read here
// as under a third. Wine and juice cultivars; hybrids bear more on secondaries.
func TestTradeFacts(t *testing.T) {
	for _, name := range []string{"Chardonnay", "Pinot Noir", "Cabernet Sauvignon", "Concord"} {
		in, _ := CropInputFor(farm.Block{Cultivar: name, Pruning: farm.Spur, SecondaryShare: -1, TertiaryShare: -1})
		crop, err := killAt(ledger(t, "EL 7=40%, EL 3=60%"), BudBurst).Crop(in)
		if err != nil {
			t.Fatal(err)
		}
		if got := crop.Fraction.Central; got < 0.6 || got > 0.7 {
			t.Errorf("%s: 40 %% green killed leaves %v of the crop, the trade says 0.6-0.7", name, got)
		}
		if math.Abs(crop.PrimaryLost-0.4) > sums || math.Abs(crop.FromPrimary-0.6) > sums {
			t.Errorf("%s: %+v", name, crop)
		}
		all, err := killAt(ledger(t, "clusters out"), BudBurst).Crop(in)
		if err != nil || all.Fraction.Central > 1.0/3 {
			t.Errorf("%s: all green and killed leaves %v, %v", name, all.Fraction, err)
		}
	}
	// The same through the default table: -2.8 degC of tissue at first leaf and wool.
	in, _ := CropInputFor(farm.Block{Cultivar: "Chardonnay", Pruning: farm.Spur, SecondaryShare: -1, TertiaryShare: -1})
	l, loss, err := ledger(t, "EL 7=40%, EL 3=60%").Frost(pinotNoir(), 0, -2.8)
	if err != nil || loss.Stages[0].Kill < 0.9 {
		t.Fatalf("%+v, %v", loss, err)
	}
	if loss.Stages[1].Kill > 0.2 {
		t.Errorf("wool suffers %v at -2.8 degC", loss.Stages[1].Kill)
	}
	_, err = l.Crop(in)
	if err != nil {
		t.Fatal(err)
	}
	l, _, err = ledger(t, "clusters out").Frost(pinotNoir(), 0, -2.8)
	if err != nil {
		t.Fatal(err)
	}
	if crop, err := l.Crop(in); err != nil || crop.Fraction.Central > 1.0/3 {
		t.Errorf("clusters out at -2.8 degC leaves %+v, %v", crop, err)
	}
}

// Percent crop loss is less than percent primary loss unless secondaries bear
// nothing (C3), and low <= central <= high.
func TestCropBounds(t *testing.T) {
	in, flags := CropInputFor(farm.Block{Cultivar: "no such vine", Pruning: farm.Spur, SecondaryShare: -1, TertiaryShare: -1})
	if !has(flags, FlagCultivar) {
		t.Error("an unknown cultivar must be flagged")
	}
	l := killAt(ledger(t, "EL 7=40%, EL 3=60%"), BudBurst)
	crop, err := l.Crop(in)
	if err != nil || !(crop.Fraction.Low > 0.6 && crop.Fraction.Low < crop.Fraction.Central && crop.Fraction.Central < crop.Fraction.High) {
		t.Errorf("%+v, %v", crop, err)
	}
	none, _ := CropInputFor(farm.Block{Cultivar: "Chardonnay", Pruning: farm.Spur})
	if crop, err := l.Crop(none); err != nil || math.Abs(crop.Fraction.High-0.6) > sums {
		t.Errorf("secondaries that bear nothing: %+v, %v", crop, err)
	}
	in.Spare = 1
	if crop, err := l.Crop(in); err != nil || crop.Fraction.Central != 1 {
		t.Errorf("twice the nodes needed, 40 %% lost: %+v, %v; want a full crop", crop, err)
	}
	for _, bad := range []func(*CropInput){
		func(c *CropInput) { c.R2.Low = 2 }, func(c *CropInput) { c.Spare = -1 }, func(c *CropInput) { c.Nodes = []float64{0, 0} },
		func(c *CropInput) { c.Nodes = []float64{math.NaN()} }, func(c *CropInput) { c.Push.High = math.NaN() },
	} {
		v := in
		bad(&v)
		if _, err := l.Crop(v); !errors.As(err, new(*InputError)) {
			t.Errorf("%+v: %v", v, err)
		}
	}
}

// Cane-pruned vines push the end buds first, and a seedless raisin cultivar
// bears little from what is left near the base (common practice): losing the
// first 40 % costs it more than it costs a spur-pruned wine cultivar.
func TestPruningAndNodes(t *testing.T) {
	l := killAt(ledger(t, "EL 7=40%, EL 3=60%"), BudBurst)
	left := func(cultivar string, p farm.Pruning) float64 {
		in, _ := CropInputFor(farm.Block{Cultivar: cultivar, Pruning: p})
		crop, err := l.Crop(in)
		if err != nil {
			t.Fatal(err)
		}
		return crop.FromPrimary
	}
	spur, cane, raisin := left("Merlot", farm.Spur), left("Merlot", farm.Cane), left("Thompson Seedless", farm.Cane)
	if !(raisin < cane && cane < spur) {
		t.Errorf("left: raisin cane %v, wine cane %v, wine spur %v; want rising", raisin, cane, spur)
	}
	// nodes 1-3 of four are barren: the end quarter bears all. With the first 40 %
	// (the end) dead, nothing is left.
	in := CropInput{Pruning: farm.Cane, Nodes: []float64{0, 0, 0, 1}}
	if crop, err := l.Crop(in); err != nil || math.Abs(crop.Fraction.High) > sums {
		t.Errorf("only the end node bears and it is dead: %+v, %v", crop, err)
	}
	// untouched vines bear a full crop whatever the profile
	whole := ledger(t, "EL 7=33%, EL 4=33%, EL 3=34%")
	if crop, err := whole.Crop(in); err != nil || math.Abs(crop.Fraction.Central-1) > 1e-9 { // rounding of shares typed in percent
		t.Errorf("untouched: %+v, %v", crop, err)
	}
}
