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

// CubicMetre is a volume of water in m3.
type CubicMetre float64

// TonnePerHectare is a mass per area, such as a crop, in t/ha (metric tonnes).
type TonnePerHectare float64

// MegajoulePerSquareMetre is an energy per area, such as a day's short wave, in
// MJ/m2.
type MegajoulePerSquareMetre float64

// Kilowatt is a power in kW.
type Kilowatt float64

// Degree is an angle in degrees; latitude north positive, longitude east
// positive.
type Degree float64

// Share is a part of a whole, 0..1: relative humidity, cloud, moisture in m3/m3.
type Share float64
