package calc

import (
	"budward/physics/air"
	"budward/physics/night"
	"budward/physics/quantity"
)

// register lists every formula.
func register() []Formula {
	var out []Formula
	for _, group := range [][]Formula{airFormulas(), skyFormulas(), soilFormulas(), waterFormulas(), vineFormulas()} {
		out = append(out, group...)
	}
	return out
}

var (
	keyT    = Key{"t", "air temperature", "2C"}
	keyRH   = Key{"rh", "relative humidity over water", "70%"}
	keyTd   = Key{"td", "dew point", "-5C"}
	keyTw   = Key{"tw", "ventilated wet bulb", "0C"}
	keyElev = Key{"elev", "elevation above the sea", "100m"}
)

func airFormulas() []Formula {
	return []Formula{
		{
			Name: "saturation", Title: "vapour pressure of saturated air",
			Range: "-50 to 60 degC over water, -50 to 0 degC over ice", Source: "FAO-56 eq. 11 and 13 over water; WMO-No. 8 annex 4.B over ice",
			Keys: []Key{keyT, {"phase", "water or ice", "water"}}, Sets: "t, with phase=water or phase=ice", run: saturation,
		}, {
			Name: "dewpoint", Title: "dew point and frost point",
			Range: "dew points from -50 to 60 degC; a frost point only at or below 0 degC", Source: "inverse of FAO-56 eq. 11; psychrometer equation for tw",
			Keys: []Key{keyT, keyRH, keyTw, keyElev}, Sets: "t with rh, or t with tw and elev", run: dewPoint,
		}, {
			Name: "wetbulb", Title: "wet bulb (ventilated, liquid water)",
			Range: "-30 to 50 degC; within 0.15 K up to 20 degC from 30 % humidity, 0.4 K elsewhere", Source: "psychrometer equation for a ventilated instrument; FAO-56 eq. 15",
			Keys: []Key{keyT, keyRH, keyTd, keyElev}, Sets: "t and elev, with rh or td", run: wetBulb,
		}, {
			Name: "starttemp", Title: "air temperature at which the wet bulb meets the threshold",
			Range: "-15 degC <= td <= threshold <= 5 degC", Source: "psychrometer equation for a ventilated instrument; FAO-56 eq. 15",
			Keys: []Key{{"threshold", "wet bulb to stay at or above", "0C"}, keyTd, keyElev}, Sets: "threshold, td and elev", run: startTemp,
		}, {
			Name: "pressure", Title: "mean air pressure by elevation",
			Range: "-430 to 5000 m; the weather moves it by up to 3 %", Source: "FAO-56 eq. 7 and 8",
			Keys: []Key{keyElev}, Sets: "elev", run: pressure,
		}, {
			Name: "cooling", Title: "temperature through a clear, calm night",
			Range:  "from two hours after sunset to sunrise, clear sky and light wind; good to a degree or two between its ends",
			Source: "square-root cooling, Snyder & de Melo-Abreu (2005), ch. 5 (from memory)",
			Keys: []Key{{"t0", "air temperature two hours after sunset", "4C"}, {"tmin", "expected minimum at sunrise", "-4C"},
				{"hours", "from two hours after sunset to sunrise", "11h"}, {"at", "hours after the start", "3h"}},
			Sets: "t0, tmin, hours and at", run: cooling,
		},
	}
}

func saturation(in *inputs, a *Answer) {
	in.or("phase", "water", "as weather services report humidity")
	t, phase := in.celsius("t"), in.word("phase", "water", "ice")
	if in.err != nil {
		return
	}
	sat, slope := air.SaturationOverWater, air.SlopeOverWater
	if phase == "ice" {
		sat, slope = air.SaturationOverIce, air.SlopeOverIce
	}
	e, err := sat(t)
	in.fail(err)
	d, err := slope(t)
	in.fail(err)
	a.Result = []Item{number("vapour_pressure_kpa", "vapour pressure", float64(e), "kPa"), number("slope_kpa_per_k", "slope", d, "kPa/K")}
}

// vapour reads the state of the air as rh, td, tw or vp, whichever was given.
func (in *inputs) vapour(t quantity.Celsius, ways ...string) quantity.Kilopascal {
	var way string
	for _, w := range ways {
		if in.has(w) {
			if way != "" {
				in.refuse(w, "give "+way+" or "+w+", not both")
			}
			way = w
		}
	}
	var e quantity.Kilopascal
	var err error
	switch way {
	case "rh":
		if rh := in.percent("rh"); in.err == nil {
			e, err = air.VapourFromHumidity(t, rh)
		}
	case "td":
		if td := in.celsius("td"); in.err == nil {
			e, err = air.VapourFromDewPoint(td)
		}
	case "tw":
		tw, p := in.celsius("tw"), in.pressureAt()
		if in.err == nil {
			e, err = air.VapourFromWetBulb(t, tw, p)
		}
	case "vp":
		e = in.kilopascal("vp")
	default:
		in.refuse(ways[0], "the moisture of the air is missing: "+in.f.Sets)
	}
	in.fail(err)
	return e
}

// pressureAt reads elev and returns the mean pressure there.
func (in *inputs) pressureAt() quantity.Kilopascal {
	z := in.metres("elev")
	if in.err != nil {
		return 0
	}
	p, err := air.PressureAt(z)
	in.fail(err)
	return p
}

func dewPoint(in *inputs, a *Answer) {
	t := in.celsius("t")
	e := in.vapour(t, "rh", "tw")
	if in.err != nil {
		return
	}
	td, err := air.DewPoint(e)
	in.fail(err)
	frost := unknown("frost_point_c", "frost point", "the dew point is above freezing")
	if td <= 0 && err == nil {
		tf, err := air.FrostPoint(e)
		in.fail(err)
		frost = temperature("frost_point_c", "frost point", tf)
	}
	a.Result = []Item{temperature("dew_point_c", "dew point", td), frost, number("vapour_pressure_kpa", "vapour pressure", float64(e), "kPa")}
}

func wetBulb(in *inputs, a *Answer) {
	t := in.celsius("t")
	e, p := in.vapour(t, "rh", "td"), in.pressureAt()
	if in.err != nil {
		return
	}
	tw, err := air.WetBulb(t, e, p)
	in.fail(err)
	a.Result = []Item{temperature("wet_bulb_c", "wet bulb", tw)}
	if tw < 0 {
		a.Notes = append(a.Notes, "below freezing this is the bulb whose water has not frozen; an ice-covered bulb differs by up to 0.6 K")
	}
}

func startTemp(in *inputs, a *Answer) {
	threshold, td, p := in.celsius("threshold"), in.celsius("td"), in.pressureAt()
	if in.err != nil {
		return
	}
	t, err := air.StartTemperature(threshold, td, p)
	in.fail(err)
	a.Result = []Item{temperature("start_temperature_c", "start temperature", t)}
}

func pressure(in *inputs, a *Answer) {
	p := in.pressureAt()
	if in.err != nil {
		return
	}
	g, err := air.PsychrometricConstant(p)
	in.fail(err)
	a.Result = []Item{
		{"pressure_kpa", "pressure", float64(p), func(s quantity.System) string { return s.Pressure(p) }},
		number("psychrometric_constant_kpa_per_k", "psychrometric constant", g, "kPa/K"),
	}
}

func cooling(in *inputs, a *Answer) {
	c := night.Cooling{StartC: in.celsius("t0"), MinimumC: in.celsius("tmin"), SpanH: in.hours("hours")}
	at := in.hours("at")
	if in.err != nil {
		return
	}
	t, err := c.At(at)
	in.fail(err)
	a.Result = []Item{temperature("temperature_c", "temperature", t)}
}
