package quantity

import "math"

// Each measure lists its units in the order shown to people. Factors are
// written as definitions, not as rounded results.
var (
	temperature = measure{
		name: "temperature", example: "31F", inner: "degC", lo: -ZeroCelsiusK, hi: math.MaxFloat64,
		units: []unit{
			{name: "F", factor: 1 / 1.8, zero: 32, aliases: []string{"degf", "fahrenheit"}},
			{name: "C", factor: 1, aliases: []string{"degc", "celsius"}},
			{name: "K", factor: 1, zero: ZeroCelsiusK, aliases: []string{"degk", "kelvin"}},
		},
	}
	difference = measure{
		name: "temperature difference", example: "2F", inner: "K", lo: -math.MaxFloat64, hi: math.MaxFloat64,
		units: []unit{
			{name: "F", factor: 1 / 1.8, aliases: []string{"degf", "fahrenheit"}},
			{name: "C", factor: 1, aliases: []string{"degc", "celsius"}},
			{name: "K", factor: 1, aliases: []string{"degk", "kelvin"}},
		},
	}
	rate = measure{
		name: "rate", example: "10gpm/ac", inner: "mm/h", lo: 0, hi: math.MaxFloat64,
		units: []unit{
			{name: "gpm/ac", factor: GPMAcreMMH, aliases: []string{"gal/min/ac", "gal/min/acre", "gpmperacre", "gpmperac"}},
			{name: "mm/h", factor: 1, aliases: []string{"mmh"}},
			{name: "in/h", factor: InchMM, aliases: []string{"inch/h", "inches/h", "iph"}},
			{name: "mm/d", factor: 1.0 / 24},
			{name: "cm/d", factor: 10.0 / 24},
			{name: "cm/h", factor: 10},
			{name: "in/d", factor: InchMM / 24, aliases: []string{"inch/d", "inches/d"}},
			{name: "L/s/ha", factor: 0.36},
			{name: "m3/h/ha", factor: 0.1},
			{name: "L/h/m2", factor: 1},
		},
	}
	length = measure{
		name: "length", example: "30in", inner: "m", lo: -math.MaxFloat64, hi: math.MaxFloat64,
		units: []unit{
			{name: "in", factor: InchMM / 1000, aliases: []string{"inch", "inches"}},
			{name: "ft", factor: FootM, aliases: []string{"foot", "feet"}},
			{name: "yd", factor: YardM, aliases: []string{"yard", "yards"}},
			{name: "mm", factor: 0.001},
			{name: "cm", factor: 0.01},
			{name: "m", factor: 1, aliases: []string{"metre", "metres", "meter", "meters"}},
			{name: "km", factor: 1000},
			{name: "mi", factor: MileM, aliases: []string{"mile", "miles"}},
		},
	}
	area = measure{
		name: "area", example: "12ac", inner: "ha", lo: 0, hi: math.MaxFloat64,
		units: []unit{
			{name: "ac", factor: AcreM2 / 1e4, aliases: []string{"acre", "acres"}},
			{name: "ha", factor: 1, aliases: []string{"hectare", "hectares"}},
			{name: "m2", factor: 1e-4, aliases: []string{"sqm"}},
			{name: "ft2", factor: FootM * FootM / 1e4, aliases: []string{"sqft"}},
		},
	}
	flow = measure{
		name: "flow", example: "600gpm", inner: "L/s", lo: 0, hi: math.MaxFloat64,
		units: []unit{
			{name: "gpm", factor: GallonL / 60, aliases: []string{"gal/min"}},
			{name: "gph", factor: GallonL / 3600, aliases: []string{"gal/h"}},
			{name: "L/s", factor: 1, aliases: []string{"lps"}},
			{name: "L/min", factor: 1.0 / 60, aliases: []string{"lpm"}},
			{name: "L/h", factor: 1.0 / 3600, aliases: []string{"lph"}},
			{name: "m3/h", factor: 1 / 3.6},
			{name: "m3/s", factor: 1000},
			{name: "cfs", factor: CubicFootL, aliases: []string{"ft3/s"}},
		},
	}
	waterDepth = measure{
		name: "depth of water", example: "27mm", inner: "mm", lo: 0, hi: math.MaxFloat64,
		units: []unit{
			{name: "mm", factor: 1},
			{name: "cm", factor: 10},
			{name: "in", factor: InchMM, aliases: []string{"inch", "inches"}},
			{name: "m3/ha", factor: 0.1},
			{name: "L/m2", factor: 1},
		},
	}
	volume = measure{
		name: "volume", example: "40m3", inner: "m3", lo: 0, hi: math.MaxFloat64,
		units: []unit{
			{name: "m3", factor: 1},
			{name: "L", factor: 0.001, aliases: []string{"litre", "litres", "liter", "liters"}},
			{name: "gal", factor: GallonL / 1000, aliases: []string{"gallon", "gallons"}},
			{name: "acft", factor: AcreFootM3, aliases: []string{"ac-ft", "acre-ft", "acre-foot", "acre-feet", "acrefoot", "acrefeet", "af"}},
			{name: "acin", factor: AcreM2 * InchMM / 1000, aliases: []string{"ac-in", "acre-in", "acre-inch", "acre-inches"}},
		},
	}
	pressure = measure{
		name: "pressure", example: "101.3kPa", inner: "kPa", lo: 0, hi: math.MaxFloat64,
		units: []unit{
			{name: "kPa", factor: 1},
			{name: "hPa", factor: 0.1},
			{name: "mb", factor: 0.1, aliases: []string{"mbar"}},
			{name: "Pa", factor: 0.001},
			{name: "bar", factor: 100},
			{name: "inHg", factor: InHgKPa},
			{name: "mmHg", factor: MmHgKPa},
			{name: "psi", factor: PsiKPa},
		},
	}
	wind = measure{
		name: "wind speed", example: "3mph", inner: "m/s", lo: 0, hi: math.MaxFloat64,
		units: []unit{
			{name: "mph", factor: MileHourMS, aliases: []string{"mi/h"}},
			{name: "m/s", factor: 1, aliases: []string{"mps"}},
			{name: "km/h", factor: 1 / 3.6, aliases: []string{"kph", "kmh"}},
			{name: "kt", factor: KnotMS, aliases: []string{"kn", "kts", "knot", "knots"}},
			{name: "ft/s", factor: FootM},
		},
	}
	massPerArea = measure{
		name: "mass per area", example: "12t/ha", inner: "t/ha", lo: 0, hi: math.MaxFloat64,
		units: []unit{
			{name: "t/ha", factor: 1, aliases: []string{"tonne/ha", "tonnes/ha"}},
			{name: "kg/ha", factor: 0.001},
			{name: "ton/ac", factor: ShortTonKg / 1000 / (AcreM2 / 1e4), aliases: []string{"tons/ac"}},
			{name: "lb/ac", factor: PoundKg / 1000 / (AcreM2 / 1e4), aliases: []string{"lbs/ac"}},
			{name: "kg/m2", factor: 10},
		},
	}
	energy = measure{
		name: "energy per area", example: "22MJ/m2", inner: "MJ/m2", lo: 0, hi: math.MaxFloat64,
		units: []unit{
			{name: "MJ/m2", factor: 1},
			{name: "kWh/m2", factor: 3.6},
			{name: "Wh/m2", factor: 0.0036},
		},
	}
	flux = measure{
		name: "energy flux", example: "123W/m2", inner: "W/m2", lo: -math.MaxFloat64, hi: math.MaxFloat64,
		units: []unit{{name: "W/m2", factor: 1}, {name: "kW/m2", factor: 1000}},
	}
	power = measure{
		name: "power", example: "70kW", inner: "kW", lo: 0, hi: math.MaxFloat64,
		units: []unit{
			{name: "kW", factor: 1},
			{name: "W", factor: 0.001},
			{name: "hp", factor: HorsepowerKW},
			{name: "BTU/h", factor: BTUHourKW},
		},
	}
	percent = measure{
		name: "percentage", example: "70%", inner: "", lo: 0, hi: 1,
		units: []unit{{name: "%", factor: 0.01, aliases: []string{"percent", "pct"}}},
	}
	share = measure{
		name: "share", example: "70% or 0.7", inner: "", lo: 0, hi: 1,
		units: []unit{
			{name: "%", factor: 0.01, aliases: []string{"percent", "pct"}},
			{name: "m3/m3", factor: 1},
		},
	}
	angle = measure{
		name: "angle", example: "7deg", inner: "deg", lo: -math.MaxFloat64, hi: math.MaxFloat64,
		units: []unit{
			{name: "deg", factor: 1, aliases: []string{"degree", "degrees"}},
			{name: "rad", factor: 180 / math.Pi},
		},
	}
	duration = measure{
		name: "length of time", example: "36h", inner: "h", lo: 0, hi: math.MaxFloat64,
		units: []unit{
			{name: "wk", factor: 168, aliases: []string{"week", "weeks"}},
			{name: "d", factor: 24, aliases: []string{"day", "days"}},
			{name: "h", factor: 1, aliases: []string{"hr", "hrs", "hour", "hours"}},
			{name: "min", factor: 1.0 / 60, aliases: []string{"mins", "minute", "minutes"}},
			{name: "s", factor: 1.0 / 3600, aliases: []string{"sec", "secs", "second", "seconds"}},
		},
	}
	latitude = measure{
		name: "latitude", example: "38.5N", inner: "deg", lo: -90, hi: 90,
		units: []unit{{name: "N"}, {name: "S"}, {name: "deg"}},
	}
	longitude = measure{
		name: "longitude", example: "122.4W", inner: "deg", lo: -180, hi: 180,
		units: []unit{{name: "E"}, {name: "W"}, {name: "deg"}},
	}
)
