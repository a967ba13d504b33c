// Package strength is the arithmetic of alcohol disinfectants: what a label figure means in
// another unit, what a hydrometer really showed, how to dilute, and how long a wiped film
// keeps its strength.
//
// It is pure: no clock, no input or output, no state. All figures refer to 20 °C unless a
// temperature is an argument.
//
// Units. A strength is always a number with a [Basis]: % v/v (volume of pure alcohol at
// 20 °C over volume of mixture at 20 °C), % w/w, g/100 g (the same number as % w/w), or
// g/100 mL. A bare "%" is a basis of its own, [Unstated], and stands for every reading it
// may have. Inside the package p is a mass fraction and q a volume fraction (0..1) and
// densities are kg/m³.
//
// How far the figures go:
//   - ethanol: OIML R 22, −20..40 °C, adds no uncertainty of its own;
//   - propan-2-ol ±0.2 % v/v and propan-1-ol ±0.25 % v/v whenever a figure was converted;
//   - mixtures of alcohols ±0.3 % v/v, for want of measured mixtures;
//   - wetness: not validated, advice only, it never passes or fails anything.
//
// Errors are sentences a person can act on; there are no error codes here.
package strength
