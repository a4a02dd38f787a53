package trial

import (
	"fmt"

	"budward/physics/quantity"
)

// Of is what a trial measures.
type Of string

const (
	OfFloor   Of = "floor"   // one floor against another
	OfWetting Of = "wetting" // the same floor, wetted and dry
)

// Step is one part of the protocol.
type Step struct {
	Title string   `json:"title"`
	Lines []string `json:"lines"`
}

// Protocol writes what a farm has to do to measure its own floor gain or wetting
// gain with two thermometers, with the numbers of a plan, in the units given.
func Protocol(of Of, p PlanResult, s quantity.System) []Step {
	k := func(v float64) string { return s.Difference(quantity.Kelvin(v)) }
	either := func(us, metric string) string { // round numbers in both
		if s == quantity.US {
			return us
		}
		return metric
	}
	topSoil := either("1 ft", "30 cm")
	each := p.EachNights
	change, other := "Mow, shred, disk or roll the measured plot as meant; leave the other as it is.", "floor beside it"
	if of == OfWetting {
		change = fmt.Sprintf("Wet the measured plot: the top %s to field capacity. Let it drain and have sun for a day (sand) to three (clay) before nights count. Wet again when it has dried by a third.", topSoil)
		other = "dry floor beside it"
	}
	steps := []Step{
		{"Two thermometers", []string{
			"The same make, in the same shelter, logging every 5 to 15 minutes by the same clock, to a tenth of a degree.",
			"A and B are written on them and never change.",
		}},
		{"Two plots", []string{
			"Alike in all but the floor: soil, slope, height above the valley, pruning, distance from buildings, roads, water and fans. The flatter the better: cold air that drains past spoils a trial.",
			fmt.Sprintf("As large as can be, upwind above all: over %s the gain is under half of that over %s. Note the size: what is measured holds for it.", either("2.5 ac", "1 ha"), either("125 ac", "50 ha")),
		}},
		{"Where they hang", []string{
			"In the middle of each plot, at cordon height, in the row, both facing the same way. Within a metre of the ground half a metre of height is worth as much as a floor: measure it with a tape.",
			fmt.Sprintf("At least %s from the plot's edge, from paths and headlands, out of the reach of sprinklers.", either("100 ft", "30 m")),
		}},
		{fmt.Sprintf("Side by side: %d clear, calm nights", p.SideNights), []string{
			fmt.Sprintf("Both at one place, an arm's length apart. If they differ by more than %s, or by more than %s from night to night, one is out of order.", k(0.5), k(0.3)),
		}},
	}
	if p.Before {
		steps = append(steps, Step{fmt.Sprintf("Before: %d clear, calm nights, swapped after %d", 2*each, each), []string{
			"In their places, both floors still alike. This tells what the two places differ by whatever their floor.",
		}})
	}
	steps = append(steps,
		Step{"The floor", []string{change}},
		Step{fmt.Sprintf("Trial: %d clear, calm nights, swapped after %d", 2*each, each), []string{
			"A over the measured floor, B over the " + other + ". Half-way swap them, by day, shelters and all: what they themselves differ by then drops out.",
			"Nights with wind, cloud, rain or fog do not count and cost nothing: leave the thermometers hanging and go on until enough count.",
			"No fan, heater or sprinkler runs near them in a night that is to count; if one must run, it runs, and the night does not count.",
		}},
		Step{"What to note", []string{
			"The day of every hanging and swap: its evening belongs to what hung then.",
			"Once a week and after every change: the surface of both floors, height of cover, moisture by hand-feel or auger to " + topSoil + ".",
			"Water given and rain; tractors that passed; in the morning dew, frost, fog; wind and cloud if a station reads them.",
		}},
	)
	return steps
}
