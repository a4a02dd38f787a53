package floor_test

import (
	"errors"
	"math"
	"testing"

	"budward/physics/floor"
	"budward/physics/quantity"
	"budward/physics/sky"
)

// On clear, calm nights exposed tissue runs 0.5-2 K colder than the air
// (common practice; design range). Under overcast it runs with the air.
func TestBudDepression(t *testing.T) {
	for _, wind := range []float64{0.2, 0.5, 1} {
		d, err := floor.Bud{AirC: -1, WindMS: wind, LongWave: sky.LongwaveDown(-1, 0.45, 0, sky.Default), GroundC: -2}.Depression()
		if err != nil || d < 0.5 || d > 2.5 {
			t.Errorf("clear, %.1f m/s: %.2f K, %v", wind, d, err)
		}
	}
	d, err := floor.Bud{AirC: 2, WindMS: 1, LongWave: sky.LongwaveDown(2, 0.65, 1, sky.Default), GroundC: 2}.Depression()
	if err != nil || math.Abs(float64(d)) > 0.3 {
		t.Errorf("overcast: %.2f K, %v", d, err)
	}
	// Worked by hand: 0.5 m/s, D 7 mm, Re = 263.2, 0.683 Re^0.466 = 9.169, h =
	// 31.83; air and ground 273.15 K, sky 240 W/m2: lost = 0.95 (315.64 - 120 -
	// 157.82) = 35.93; 4 x 0.95 sigma T^3 = 4.391; 35.93/36.22 = 0.992.
	d, err = floor.Bud{AirC: 0, WindMS: 0.5, LongWave: 240, GroundC: 0}.Depression()
	if err != nil || math.Abs(float64(d)-0.992) > 0.003 {
		t.Errorf("worked example: %.4f K, %v; want 0.992", d, err)
	}
	if _, err := (floor.Bud{AirC: math.NaN(), LongWave: 240}).Depression(); !errors.As(err, new(*quantity.RangeError)) {
		t.Errorf("NaN air: %v", err)
	}
}

// Want: log-linear profile by hand, both from 1 to 2 m, z0 0.012 m, 0 degC, 100
// kPa, so rho cp = 1292.0.
//
// 1. H = -15 W/m2, wind 1 m/s, more than this wind can carry: neutral u* =
// 0.41/ln(166.7) = 0.08014, its L = 3.011 m, b = 10/(3.011 x 5.116) = 0.649 >
// 4/27; u* = 2/3 of it = 0.05343, L = 0.89 held at 2 m; theta* = 15/(1292.0 x
// 0.05343) = 0.2173 K; 0.2173/0.41 x (0.6931 + 5/2) = 1.692 K.
//
// 2. H = -10 W/m2, wind 3 m/s: neutral u* = 0.2404, its L = 121.9 m, b = 0.01603;
// x = 1 - b/x^2 = 0.98343; u* = 0.23645, L = 116.0 m; theta* = 0.032735 K;
// 0.032735/0.41 x (0.6931 + 5/116.0) = 0.05878 K.
func TestTransferWorkedExample(t *testing.T) {
	for _, c := range []struct{ h, u, want, tol float64 }{{-15, 1, 1.692, 0.002}, {-10, 3, 0.05878, 0.00005}} { // the last digit kept by hand
		d, spread, err := floor.Transfer{FromM: 1, ToM: 2, Sensible: c.h, WindMS: c.u, AirC: 0, RoughnessM: 0.012, Pressure: 100}.Difference()
		if err != nil || math.Abs(float64(d)-c.want) > c.tol {
			t.Errorf("%.5f K, %v; want %v", d, err, c.want)
		}
		if math.Abs(float64(spread)-(0.6*c.want+0.25)) > c.tol {
			t.Errorf("spread %.3f K", spread)
		}
	}
}

// More heat lost makes the step larger and more wind makes it smaller, with no
// jump where the wind can carry no more. There u* changes as the square root of
// what is left, so the heat is varied in hundredths of a watt: a jump would not
// shrink with them.
func TestTransferHasNoJump(t *testing.T) {
	step := func(h, u float64) float64 {
		return floor.Transfer{FromM: 1, ToM: 2, Sensible: h, WindMS: u, AirC: 0, RoughnessM: 0.012, Pressure: 100}.DifferenceK()
	}
	for u := 1.0; u < 6; u += 0.25 {
		for h := -1.0; h > -60; h -= 0.01 {
			a, b := step(h, u), step(h-0.01, u)
			if b <= a || b-a > 0.1*b {
				t.Fatalf("wind %.2f: %.4f K at %.2f W/m2, %.4f K at %.2f", u, a, h, b, h-0.01)
			}
			if c := step(h, u+0.25); c >= a {
				t.Fatalf("%.2f W/m2: %.4f K at %.2f m/s, %.4f K at %.2f", h, a, u, c, u+0.25)
			}
		}
	}
}

// Going up and coming down again must return, and a height already right
// needs nothing.
func TestTransferIsReversible(t *testing.T) {
	for _, h := range []float64{-40, -15, -2, 0, 30} {
		up := floor.Transfer{FromM: 0.8, ToM: 1.5, Sensible: h, WindMS: 1.3, AirC: 1, RoughnessM: 0.01, Pressure: 98}
		down := up
		down.FromM, down.ToM = up.ToM, up.FromM
		a, _, err1 := up.Difference()
		b, _, err2 := down.Difference()
		if err1 != nil || err2 != nil || math.Abs(float64(a+b)) > 1e-12 {
			t.Errorf("H %v: %v and %v (%v, %v)", h, a, b, err1, err2)
		}
		if h < 0 && a <= 0 || h > 0 && a >= 0 {
			t.Errorf("H %v: %v K upward", h, a)
		}
	}
}
