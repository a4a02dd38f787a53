package nights_test

import (
	"testing"
	"time"

	"budward/decide/nights"
	"budward/vineyard/farm"
)

func show(t *testing.T, a nights.Answer) {
	for _, b := range a.Blocks {
		t.Logf("== %s %s | %s", b.BlockID, b.Urgency, b.Reason)
		for _, c := range b.Choices {
			t.Logf("  %-40s open %v chosen %v gain %.2f (%.2f..%.2f) avoided %.0f cost %.0f net %.0f mm %.1f  %s..%s %s", c.Label, c.Open, c.Chosen, c.Gain.CentralK, c.Gain.LowK, c.Gain.HighK, c.Avoided, c.Cost, c.Net, c.WaterMM, c.StartAt.In(zone).Format("Mon 15:04"), c.StopAt.In(zone).Format("Mon 15:04"), c.WhyNot)
		}
		for _, s := range b.Starts {
			t.Logf("  START %s: %s", s.Label, s.Text)
			for _, p := range s.Points {
				t.Logf("     %-20s start %5.1f h finish %5.1f h before: %.2f (%.2f..%.2f) mm %.1f share %.2f best %v", p.Label, p.StartH, p.LeadH, p.Gain.CentralK, p.Gain.LowK, p.Gain.HighK, p.WaterMM, p.WetShare, p.Best)
			}
		}
		for _, v := range b.FloorWork {
			t.Logf("  %s %v %.2f %s", v.Work, v.OK, v.WorthK, v.Text)
		}
		t.Log("  settle: ", b.Settle)
		for _, n := range b.Notes {
			t.Logf("   note %s: %s", n.Code, n.Text)
		}
	}
	for _, s := range a.Shared {
		t.Log(s.Text)
	}
}

func TestLook(t *testing.T) {
	b := testBlock("A")
	dripOn(&b)
	c := testBlock("C")
	c.Strips = []farm.Strip{{Name: "all", Share: 1, Surface: farm.BareFirm, Moisture: moist(0.14)}}
	c.System = farm.System{Kind: farm.Furrow, SourceID: "W", RateMmH: 5, AdvanceH: 3}
	d := testBlock("D")
	d.Strips = []farm.Strip{{Name: "all", Share: 1, Surface: farm.BareFirm, Moisture: moist(0.28)}}
	d.System = farm.System{Kind: farm.OverVine, SourceID: "W", RateMmH: 4.5}
	d2 := d
	d2.ID, d2.System.RateMmH = "D2", 2.5
	e := testBlock("E")
	e.Protection = []string{"F"}
	e.StationID = "S"
	in := input(t, clearWeek{low: -1, high: 17, dew: -4, wind: 1, cloud: 0.05}, b, c, d, d2, e)
	in.Farm.Equipment = []farm.Equipment{{ID: "F", Name: "Fan 1", Kind: farm.Fan, AreaHa: 4.25, Count: 1, CostPerH: 40}}
	t0 := time.Now()
	a, err := nights.Tonight(in)
	if err != nil {
		t.Fatal(err)
	}
	t.Log(time.Since(t0))
	show(t, a)
}
