package method_test

import (
	"math"
	"testing"

	"budward/decide/method"
	"budward/physics/floor"
	"budward/vineyard/farm"
)

// A block with the station's own floor gains exactly nothing, whatever the
// heights of sensor and cordon: the same cover is held against itself. 1e-3 K
// is the solver's own tolerance over a night.
func TestSameFloorGainsNothing(t *testing.T) {
	for _, cover := range []float64{0.1, 0.4} {
		for _, sensor := range []float64{0.5, 1.5, 2, 10} {
			st := station()
			st.SensorHeightM, st.Surroundings.HeightM = sensor, cover
			b := bareBlock(0.27)
			b.Strips[0].Surface, b.Strips[0].HeightM = farm.Cover, cover
			p := spring(3, 0.5)
			ref, err := method.NewReference(st, []float64{b.CordonHeightM}, warm)
			if err != nil {
				t.Fatal(err)
			}
			site, err := method.NewSite(b, ref, warm)
			if err != nil {
				t.Fatal(err)
			}
			var tr method.Trace
			site.Drive(p.Steps, ref.Run(p.Steps)[site.Height], &tr)
			for i, g := range tr.GainK {
				if math.Abs(g) > 1e-3 {
					t.Errorf("cover %v m, sensor %v m: %.4f K at step %d", cover, sensor, g, i)
					break
				}
			}
		}
	}
}

// Buried lines put their water into the soil: nothing runs off, and a refill
// ends within a third more than the same refill from the surface plus the soil
// the line lies in (0.1 m more).
func TestBuriedLines(t *testing.T) {
	given := func(buried float64) (mm float64, site *method.Site) {
		b := slowDrip(0.15, 0.8)
		b.System.BuriedM = buried
		_, s := gainAt(t, b, spring(9, 1), []method.Run{{From: 0, To: 8 * 144, UntilRefill: true, WaterC: 15}})
		return s.Given.WaterMM, s
	}
	top, _ := given(0)
	for _, depth := range []float64{0.2, 0.3} {
		mm, s := given(depth)
		for i := range s.Floor.Patches {
			if r := s.Floor.Patches[i].Budget.Runoff; r > 1e-9 {
				t.Errorf("line at %v m: %.1f mm ran off", depth, 1000*r)
			}
		}
		if mm > top*1.34*(method.RootZoneM+0.1)/method.RootZoneM {
			t.Errorf("line at %v m: %.1f mm, from the surface %.1f mm", depth, mm, top)
		}
	}
}

// Laying a loosened surface on a running site keeps both accounts closed.
func TestLayKeepsAccounts(t *testing.T) {
	p := spring(6, 1)
	ref, err := method.NewReference(station(), []float64{1}, warm)
	if err != nil {
		t.Fatal(err)
	}
	site, err := method.NewSite(bareBlock(0.25), ref, warm)
	if err != nil {
		t.Fatal(err)
	}
	r := ref.Run(p.Steps)[site.Height]
	var tr method.Trace
	half := len(p.Steps)/2 + 3 // within an hour: water is under way
	site.Drive(p.Steps[:half], r[:half], &tr)
	if err := site.Lay([]farm.Strip{{Name: "all", Share: 1, Surface: farm.Disked, DepthM: 0.1}}); err != nil {
		t.Fatal(err)
	}
	site.Drive(p.Steps[half:], r[half:], &tr)
	closed(t, site.Floor.Patches[0].Strip)
}

func closed(t *testing.T, s *floor.Strip) {
	t.Helper()
	if gap, of := s.HeatGap(); math.Abs(gap) > 1e-9*of {
		t.Errorf("heat off by %g of %g J/m2", gap, of)
	}
	if gap, of := s.WaterGap(); math.Abs(gap) > 1e-9*of {
		t.Errorf("water off by %g of %g m", gap, of)
	}
}
