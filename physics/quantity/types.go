// Package quantity names the physical quantities budward computes with, reads
// them with their units written beside them, and prints them in US or metric
// units. It is the lowest package of the project: numbers and units only.
package quantity

// Celsius is a temperature in degrees Celsius.
type Celsius float64

// Kelvin is a temperature difference in kelvin. It never takes the 32-degree
// (Fahrenheit) or 273.15-kelvin offset.
type Kelvin float64

// Kilopascal is a pressure or vapour pressure in kPa.
type Kilopascal float64

// MetrePerSecond is a wind speed in m/s.
type MetrePerSecond float64

// Metre is a length, height or depth in m.
type Metre float64

// Millimetre is a depth of water in mm (1 mm = 1 L/m2 = 10 m3/ha).
type Millimetre float64

// MillimetrePerHour is an application, rain or evaporation rate in mm/h.
type MillimetrePerHour float64

// WattPerSquareMetre is an energy flux density in W/m2.
type WattPerSquareMetre float64

// Hectare is an area in ha.
type Hectare float64

// LitrePerSecond is a volume flow in L/s.
type LitrePerSecond float64

// ZeroCelsiusK is 0 degC in kelvin (exact, by definition of the scale).
const ZeroCelsiusK = 273.15
