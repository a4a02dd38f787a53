package calc

import (
	"errors"
	"fmt"
	"math"

	"budward/decide/method"
	"budward/physics/air"
	"budward/physics/quantity"
)

func waterFormulas() []Formula {
	return []Formula{
		{
			Name: "waterheat", Title: "heat that running water brings to a floor",
			Range:  "up to 60 mm/h of water at 0 to 40 degC; the gain is for a calm night on a large block",
			Source: "heat capacity 4.18 MJ m-3 K-1 and heat of fusion 334 kJ/kg of water",
			Keys: []Key{{"rate", "application rate over the floor it warms", "10gpm/ac"}, {"watertemp", "water on arrival", "60F"},
				{"to", "temperature it cools to", "0C"}, {"freeze", "yes if it then freezes", "no"}},
			Sets: "rate and watertemp; to and freeze if wanted", run: waterHeat,
		}, {
			Name: "sprinklerrate", Title: "over-vine rate that holds wetted vines at 0 degC",
			Range: fmt.Sprintf("air from %g to 0 degC, wind up to %g m/s, humidity from 20 %%; outside it the advice is not to start",
				method.SprinkleLeastC, method.SprinkleWindMS),
			Source: "heat balance of wetted tissue at 0 degC, and FAO 10 table 7.6 (from memory) where it is higher",
			Keys:   []Key{keyT, {"wind", "wind at the vines", "0.5m/s"}, keyRH, keyTd, {"crop", "vine", "vine"}},
			Sets:   "t and wind, with rh or td; crop if wanted", run: sprinklerRate,
		},
	}
}

func waterHeat(in *inputs, a *Answer) {
	in.or("to", "0C", "as cold as it gets before it freezes")
	in.or("freeze", "no", "what freezes on the floor is not counted on")
	rate, t, to := in.rate("rate"), in.celsius("watertemp"), in.celsius("to")
	freeze := in.word("freeze", "yes", "no") == "yes"
	if in.err != nil {
		return
	}
	h, err := method.WaterHeat(rate, t, to, freeze)
	in.fail(err)
	total := h.Cooling + h.Freezing
	mid := (h.LowK + h.HighK) / 2
	gain := func(u quantity.System) string {
		return fmt.Sprintf("%s (%s to %s)", u.Difference(mid), u.Difference(h.LowK), u.Difference(h.HighK))
	}
	hidden := func(quantity.System) string { return "" }
	a.Result = []Item{
		number("heat_w_m2", "heat", float64(total), "W/m2"),
		{"gain_k", "gain in the air", float64(mid), gain},
		{"gain_low_k", "", float64(h.LowK), hidden}, {"gain_high_k", "", float64(h.HighK), hidden},
	}
	if freeze {
		a.Notes = append(a.Notes, fmt.Sprintf("of the heat, %s W/m2 is freed by freezing; it stays at the floor and is left out of the gain", significant(float64(h.Freezing))))
	}
	a.Notes = append(a.Notes, "the upper end takes all heat down to the end temperature as warming the air: an upper bound")
}

func sprinklerRate(in *inputs, a *Answer) {
	in.or("crop", "vine", "shoots and swollen buds with their wood")
	t, u := in.celsius("t"), in.wind("wind")
	in.word("crop", "vine")
	e := in.vapour(t, "rh", "td")
	if in.err != nil {
		return
	}
	rh, err := air.RelativeHumidity(t, e)
	if err != nil {
		in.fail(err)
		return
	}
	rate, err := method.SprinklerRate(t, rh, u, method.VineTissue)
	var out *quantity.RangeError
	if errors.As(err, &out) {
		a.Result = []Item{unknown("rate_mm_h", "rate", "do not start"), {"valid", "valid", false, plain("no")},
			{"why_not", "why not", out.Error(), plain(out.Error())}}
		return
	}
	in.fail(err)
	if book, ok := method.HandbookSprinklerRate(t, u); ok {
		a.Notes = append(a.Notes, fmt.Sprintf("heat balance %.1f mm/h, handbook %.1f mm/h; the higher is given", float64(rate), float64(book)))
		rate = quantity.MillimetrePerHour(math.Max(float64(rate), float64(book)))
	}
	a.Result = []Item{
		{"rate_mm_h", "rate", float64(rate), func(s quantity.System) string { return s.RainRate(rate) + " (" + s.Rate(rate) + ")" }},
		{"valid", "valid", true, plain("yes")}, {"why_not", "", nil, plain("")},
	}
	a.Notes = append(a.Notes, "below this rate do not start: wetted vines without enough water end up colder than dry ones")
}
