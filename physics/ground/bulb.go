package ground

import (
	"math"

	"budward/physics/quantity"
)

// Emitters describes point sources on a regular grid.
type Emitters struct {
	FlowLPH float64 // flow of one emitter, L/h
	AlongM  float64 // spacing along the row, m
	AcrossM float64 // spacing across (the row spacing for one line a row), m
}

// Wetted is the ground wetted by one emitter's water as a share of the floor.
type Wetted struct {
	Share    float64 // of the floor, at the level where the bulb is widest
	DepthM   float64 // depth of the wetted soil below the emitter
	RadiusM  float64 // horizontal radius, or half width once bulbs meet
	Band     bool    // bulbs of neighbouring emitters have met
	Capped   bool    // the whole floor is wet
	VolumeM3 float64 // water given by one emitter
}

func (e Emitters) validate(hours float64) error {
	for _, r := range []struct {
		q      string
		v      float64
		lo, hi float64
		unit   string
	}{
		{"emitter flow", e.FlowLPH, 0.05, 400, "L/h"}, {"emitter spacing along the row", e.AlongM, 0.1, 20, "m"},
		{"emitter spacing across", e.AcrossM, 0.3, 20, "m"}, {"hours of running", hours, 0, 2400, "h"},
	} {
		if !(r.v >= r.lo && r.v <= r.hi) {
			return &quantity.RangeError{Quantity: r.q, Value: r.v, Lo: r.lo, Hi: r.hi, Unit: r.unit, Source: "range of vineyard practice"}
		}
	}
	return nil
}

// BulbByMass returns the wetted share of the floor after hours of running, by
// the balance of mass: the volume of soil wetted is the water given over the
// deficit (water content after less before, m3/m3). The bulb is half an
// ellipsoid with horizontal radius over depth widerThanDeep (1: a hemisphere,
// r = (3 V / (2 pi deficit))^(1/3)); once radii pass half the spacing along
// the row it goes on as half an elliptic cylinder, a band. Evaporation and
// drainage out of the bulb are left out, so the share is an upper bound after
// several days. Valid for deficit 0.01-0.5.
func BulbByMass(e Emitters, hours, deficit, widerThanDeep float64) (Wetted, error) {
	if err := e.validate(hours); err != nil {
		return Wetted{}, err
	}
	if !(deficit >= 0.01 && deficit <= 0.5) {
		return Wetted{}, &quantity.RangeError{Quantity: "deficit", Value: deficit, Lo: 0.01, Hi: 0.5, Unit: "m3/m3", Source: "mass balance of a wetted bulb"}
	}
	if !(widerThanDeep >= 0.2 && widerThanDeep <= 5) {
		return Wetted{}, &quantity.RangeError{Quantity: "bulb width over depth", Value: widerThanDeep, Lo: 0.2, Hi: 5, Unit: "", Source: "mass balance of a wetted bulb"}
	}
	v := e.FlowLPH / 1000 * hours
	return e.shape(v, v/deficit, widerThanDeep), nil
}

// shape lays soil volume out under an emitter.
func (e Emitters) shape(waterM3, soilM3, wider float64) Wetted {
	area := e.AlongM * e.AcrossM
	w := Wetted{VolumeM3: waterM3}
	r := math.Cbrt(3 * soilM3 * wider / (2 * math.Pi)) // (2/3) pi r^2 (r/wider) = V
	w.RadiusM, w.DepthM = r, r/wider
	w.Share = math.Pi * r * r / area
	short := math.Min(e.AlongM, e.AcrossM)
	long := math.Max(e.AlongM, e.AcrossM)
	if 2*r > short {
		// Band: (pi/2) r (r/wider) per metre of the line of touching bulbs. The
		// band is never narrower than the bulbs that met to form it.
		w.Band = true
		rb := math.Sqrt(2 * soilM3 / short * wider / math.Pi)
		touch := math.Pi * short * short / 4 / area // share when they met
		w.RadiusM = rb
		w.DepthM = rb / wider
		w.Share = math.Max(touch, 2*rb/long)
	}
	if w.Share >= 1 {
		w.Share, w.Capped = 1, true
		w.DepthM = soilM3 / area
	}
	return w
}

// BulbEmpirical returns the wetted share by the published empirical fit of
// Schwartzman & Zur (1986): width 1.82 V^0.22 (Ks/q)^-0.17, depth 2.54 V^0.63
// (Ks/q)^0.45 (V m3, Ks m/s, q m3/s, both in m). The coefficients are from
// memory and not verified; it serves as the second opinion beside BulbByMass.
func BulbEmpirical(e Emitters, hours, ksMmH float64) (Wetted, error) {
	if err := e.validate(hours); err != nil {
		return Wetted{}, err
	}
	if !(ksMmH >= 0.01 && ksMmH <= 5000) {
		return Wetted{}, &quantity.RangeError{Quantity: "saturated conductivity", Value: ksMmH, Lo: 0.01, Hi: 5000, Unit: "mm/h", Source: "Schwartzman & Zur (1986)"}
	}
	v := e.FlowLPH / 1000 * hours
	ks, q := ksMmH/3.6e6, e.FlowLPH/3.6e6
	width := 1.82 * math.Pow(v, 0.22) * math.Pow(ks/q, -0.17)
	depth := 2.54 * math.Pow(v, 0.63) * math.Pow(ks/q, 0.45)
	w := Wetted{VolumeM3: v, RadiusM: width / 2, DepthM: depth, Share: math.Pi * width * width / 4 / (e.AlongM * e.AcrossM)}
	if width > math.Min(e.AlongM, e.AcrossM) {
		w.Band = true
		w.Share = math.Min(w.Share, width/math.Max(e.AlongM, e.AcrossM))
	}
	if w.Share >= 1 {
		w.Share, w.Capped = 1, true
	}
	return w, nil
}

// Refill returns the water in mm over the strip that brings its top depthM of
// soil from water content moisture to field capacity (zero if already there).
func (s Soil) Refill(moisture, depthM float64) (mm float64, err error) {
	if !(moisture >= 0 && moisture <= s.Porosity) {
		return 0, &quantity.RangeError{Quantity: "water content", Value: moisture, Lo: 0, Hi: s.Porosity, Unit: "m3/m3", Source: "FAO-56 soil water balance"}
	}
	if !(depthM > 0 && depthM <= 2) {
		return 0, &quantity.RangeError{Quantity: "depth", Value: depthM, Lo: 0, Hi: 2, Unit: "m", Source: "FAO-56 soil water balance"}
	}
	return math.Max(0, 1000*(s.FieldCapacity-moisture)*depthM), nil
}
