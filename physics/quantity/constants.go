package quantity

// Conversion constants. Those marked exact hold by definition (international
// yard and pound of 1959, US gallon of 231 cubic inches, standard gravity);
// the rest are computed from them or named with their convention.
const (
	InchMM     = 25.4                        // exact
	FootM      = 0.3048                      // exact
	YardM      = 0.9144                      // exact
	MileM      = 1609.344                    // exact
	AcreM2     = 4046.8564224                // exact: 4840 square yards
	GallonL    = 3.785411784                 // exact: US gallon, 231 cubic inches
	PoundKg    = 0.45359237                  // exact: avoirdupois
	ShortTonKg = 2000 * PoundKg              // exact: US ton
	KnotMS     = 1852.0 / 3600               // exact: international nautical mile per hour
	MileHourMS = MileM / 3600                // exact
	PsiKPa     = PoundKg * 9.80665 / 0.64516 // exact: lbf per square inch; 1 in2 = 6.4516e-4 m2
	MmHgKPa    = 0.133322387415              // conventional, 13.5951 g/cm3 and standard gravity
	InHgKPa    = InchMM * MmHgKPa            // conventional, the same
	CubicFootL = 28.316846592                // exact
	// GPMAcreMMH is 1 US gallon per minute and acre in mm/h, about 0.0561; 1
	// in/h is then 452.6 gpm/acre.
	GPMAcreMMH = GallonL * 60 / AcreM2
	// AcreFootM3 is one acre covered one foot deep, about 1233.48 m3.
	AcreFootM3 = AcreM2 * FootM
	// BTUHourKW is 1 BTU(IT) per hour, about 0.000293071 kW; the International
	// Table BTU is 1055.05585262 J, exact.
	BTUHourKW = 1055.05585262 / 3.6e6
	// HorsepowerKW is the mechanical horsepower, 550 ft lbf/s.
	HorsepowerKW = 550 * FootM * PoundKg * 9.80665 / 1000
)

// FromFahrenheit converts a temperature.
func FromFahrenheit(f float64) Celsius { return Celsius((f - 32) / 1.8) }

// Fahrenheit returns the temperature in degrees Fahrenheit.
func (c Celsius) Fahrenheit() float64 { return float64(c)*1.8 + 32 }

// Kelvins returns the absolute temperature in kelvin.
func (c Celsius) Kelvins() float64 { return float64(c) + ZeroCelsiusK }

// FromFahrenheitDifference converts a temperature difference; no offset.
func FromFahrenheitDifference(f float64) Kelvin { return Kelvin(f / 1.8) }

// Fahrenheit returns the difference in Fahrenheit degrees; no offset.
func (k Kelvin) Fahrenheit() float64 { return float64(k) * 1.8 }

// GPMPerAcre returns the rate in US gallons per minute and acre.
func (r MillimetrePerHour) GPMPerAcre() float64 { return float64(r) / GPMAcreMMH }

// Flow returns the flow that gives rate r over area a: 1 mm/h on 1 ha is
// 10 m3/h.
func (r MillimetrePerHour) Flow(a Hectare) LitrePerSecond {
	return LitrePerSecond(float64(r) * float64(a) * 10 / 3.6)
}

// Volume returns the water that depth d takes over area a: 1 mm on 1 ha is
// 10 m3.
func (d Millimetre) Volume(a Hectare) CubicMetre {
	return CubicMetre(float64(d) * float64(a) * 10)
}

// Acres returns the area in acres.
func (a Hectare) Acres() float64 { return float64(a) * 1e4 / AcreM2 }
