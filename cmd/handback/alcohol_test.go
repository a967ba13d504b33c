package main

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

var strengthKeys = []string{"mass_percent", "volume_percent", "grams_per_100ml", "density_kg_m3",
	"uncertainty_volume_percent", "verdict", "why"}

// TestStrengthCommand: OIML R 22 table values where four digits stand, the rest computed.
func TestStrengthCommand(t *testing.T) {
	got := answer(t, "strength", "--part", "ethanol=70%v/v", "--json")
	requireKeys(t, got, strengthKeys...)
	require.InDelta(t, 62.39, got["mass_percent"], 0.006)
	require.Equal(t, 70.0, got["volume_percent"])
	require.InDelta(t, 55.25, got["grams_per_100ml"], 0.006)
	require.InDelta(t, 885.56, got["density_kg_m3"], 0.006)
	require.Equal(t, 0.0, got["uncertainty_volume_percent"])
	require.Equal(t, "none", got["verdict"])
	require.NotEmpty(t, got["why"])

	got = answer(t, "strength", "--json", "--part", "propan-2-ol=70%w/w", "--min", "70%v/v",
		"--max", "90%v/v")
	require.InDelta(t, 76.63, got["volume_percent"], 0.01)
	require.Equal(t, 0.2, got["uncertainty_volume_percent"])
	require.Equal(t, "pass", got["verdict"])
}

func TestStrengthCommandSums(t *testing.T) {
	args := []string{"strength", "--part", "ethanol=40%w/w", "--part", "propan-2-ol=30g/100g",
		"--json"}
	got := answer(t, args...)
	require.InDelta(t, 76.81, got["volume_percent"], 0.01)
	require.InDelta(t, 864.12, got["density_kg_m3"], 0.05)
	require.Equal(t, 70.0, got["mass_percent"])
	require.Equal(t, 0.3, got["uncertainty_volume_percent"])

	got = answer(t, append(args, "--density", "0.87g/mL")...)
	require.Equal(t, 870.0, got["density_kg_m3"])
	require.InDelta(t, 40*870/789.23912+30*870/785.1, got["volume_percent"], 1e-4)
	require.Equal(t, 0.0, got["uncertainty_volume_percent"])
}

func TestStrengthCommandVerdicts(t *testing.T) {
	for _, r := range []struct{ part, limit, value, want string }{
		{"ethanol=70%", "--min", "70%v/v", "pass"}, {"ethanol=70%", "--min", "70%w/w", "undecided"},
		{"ethanol=60%w/w", "--min", "60%v/v", "pass"}, {"ethanol=60%w/w", "--min", "70%v/v", "fail"},
		{"propan-2-ol=70%w/w", "--min", "76.6%v/v", "undecided"},
		{"propan-2-ol=70%v/v", "--min", "70%v/v", "pass"},
		{"ethanol=90.1%v/v", "--max", "90%v/v", "fail"},
		{"ethanol=60..80%v/v", "--min", "60%v/v", "pass"},
	} {
		got := answer(t, "strength", "--part", r.part, r.limit, r.value, "--json")
		requireKeys(t, got, strengthKeys...)
		require.Equal(t, r.want, got["verdict"], "%v", r)
	}
	got := answer(t, "strength", "--part", "ethanol=70%", "--min", "70%w/w", "--json")
	for _, k := range strengthKeys[:5] {
		require.Nil(t, got[k], k)
	}
	require.Contains(t, got["why"], "state the basis")
}

func TestStrengthCommandRefuses(t *testing.T) {
	for says, args := range map[string]string{
		"--part is missing":            "",
		"has no unit":                  "--part ethanol=70",
		"is not NAME=STRENGTH":         "--part 70%v/v",
		"is not known":                 "--part alcohol=70%v/v",
		"given twice":                  "--part ethanol=7%v/v --part ethanol=7%v/v",
		"cannot be":                    "--part ethanol=80g/100mL",
		"more than 100":                "--part ethanol=80%v/v --part propan-1-ol=21%v/v",
		"in degrees":                   "--part ethanol=70°",
		"another script":               "--part ethanol=７０%v/v",
		"negative":                     "--part ethanol=-70%v/v",
		"plain number":                 "--part ethanol=NaN%v/v",
		"between 0 and 100":            "--part ethanol=101%v/v",
		"--min":                        "--part ethanol=70%v/v --min 70",
		"--max":                        "--part ethanol=70%v/v --max 90",
		"one number and a stated":      "--part ethanol=70%v/v --min 70%",
		"least allowed is above":       "--part ethanol=70%v/v --min 9%v/v --max 8%v/v",
		"missing or not understood":    "--part ethanol=70%v/v --density 876.5",
		"out of range":                 "--part ethanol=70%v/v --density 876.5g/mL",
		"does not fit these alcohols":  "--part ethanol=70%v/v --density 0.95g/mL",
		"one argument too many":        "--part ethanol=70%v/v more",
		"flag provided but not define": "--part ethanol=70%v/v --least 70%v/v",
	} {
		requireRefused(t, says, append([]string{"strength", "--json"}, strings.Fields(args)...)...)
	}
}

func TestStrengthCommandPlainText(t *testing.T) {
	code, out, errs := call("strength", "--part", "ethanol=70%v/v", "--min", "70%v/v")
	require.Zero(t, code, errs)
	require.Contains(t, out, "62.39 % w/w")
	require.Contains(t, out, "pass: 70%v/v is not below the least allowed, 70%v/v")
	_, out, _ = call("strength", "--part", "ethanol=70%")
	require.Equal(t, "none: no limit was given, so nothing is judged\n", out)
}

// TestHydrometerCommand: 70 read at 30 °C is 66.67 % v/v, at 15 °C 71.61 (computed from
// OIML R 22); 57.0 at 6 °C is 61.9 (printed there).
func TestHydrometerCommand(t *testing.T) {
	for _, r := range []struct {
		reading, celsius string
		want, tolerance  float64
	}{{"70%v/v", "30", 66.67, 0.005}, {"70%v/v", "15", 71.61, 0.005}, {"57%v/v", "6", 61.9, 0.051},
		{"885.56kg/m3", "20", 70, 0.005}, {"0.88556g/mL", "20", 70, 0.005},
		{"62.39%w/w", "20", 70, 0.006}} {
		got := answer(t, "hydrometer", "--reading", r.reading, "--temperature", r.celsius,
			"--glass", "soda-lime", "--json")
		requireKeys(t, got, "true_volume_percent", "true_mass_percent", "density_kg_m3",
			"uncertainty_volume_percent")
		require.InDelta(t, r.want, got["true_volume_percent"], r.tolerance, "%v", r)
		require.Greater(t, got["uncertainty_volume_percent"], 0.3)
	}
	got := answer(t, "hydrometer", "--reading", "70%", "--scale", "volume", "--temperature", "20",
		"--glass", "none", "--json")
	require.InDelta(t, 62.39, got["true_mass_percent"], 0.006)
	// A stem for ethanol shows 73.3 in 70 % v/v of propan-2-ol; computed from published densities.
	got = answer(t, "hydrometer", "--reading", "73.3%v/v", "--temperature", "20", "--glass",
		"soda-lime", "--alcohol", "propan-2-ol", "--json")
	require.InDelta(t, 70, got["true_volume_percent"], 0.07)
	require.Greater(t, got["uncertainty_volume_percent"], 1.0)
	_, out, _ := call("hydrometer", "--reading", "70%v/v", "--temperature", "30",
		"--glass", "soda-lime")
	require.Contains(t, out, "66.67 % v/v (give or take 0.57)")
}

func TestHydrometerCommandRefuses(t *testing.T) {
	for says, args := range map[string]string{
		"--temperature is missing":      "--reading 70%v/v --glass soda-lime",
		"--glass is missing":            "--reading 70%v/v --temperature 20",
		"--reading is missing":          "--temperature 20 --glass soda-lime",
		"outside 0 to 40":               "--reading 70%v/v --temperature -1 --glass none",
		"plastic":                       "--reading 70%v/v --temperature 20 --glass plastic",
		"outside 15 to 35":              "--reading 877kg/m3 --temperature 14 --glass none --alcohol propan-2-ol",
		"is 877kg/m3 meant?":            "--reading 877g/mL --temperature 20 --glass none",
		"write ethanol":                 "--reading 877kg/m3 --temperature 20 --glass none --alcohol rum",
		"outside the table":             "--reading 700kg/m3 --temperature 20 --glass none",
		"has no unit":                   "--reading 70 --temperature 20 --glass none",
		"not what a stem is marked":     "--reading 70% --temperature 20 --glass none",
		"degrees Celsius":               "--reading 70%v/v --temperature 86F --glass none",
		"write volume, mass or density": "--reading 70% --temperature 20 --glass none --scale x",
		"not of the scale":              "--reading 70%v/v --temperature 20 --glass none --scale mass",
	} {
		requireRefused(t, says, append([]string{"hydrometer", "--json"}, strings.Fields(args)...)...)
	}
}

// TestDiluteCommand: 96 % to 1 L of 70 %, pharmacopoeial table 729.2 mL and 297.2 mL.
func TestDiluteCommand(t *testing.T) {
	got := answer(t, "dilute", "--stock", "96%v/v", "--target", "70%v/v", "--volume", "1000mL",
		"--min", "60%v/v", "--json")
	requireKeys(t, got, "stock_ml", "water_ml", "stock_g", "water_g", "contraction_ml",
		"mistake_volume_percent")
	require.InDelta(t, 729.2, got["stock_ml"], 0.1)
	require.InDelta(t, 297.2, got["water_ml"], 0.2)
	require.InDelta(t, 588.74, got["stock_g"], 0.01)
	require.InDelta(t, 296.82, got["water_g"], 0.01)
	require.InDelta(t, 26.5, got["contraction_ml"], 0.05)
	require.InDelta(t, 71.79, got["mistake_volume_percent"], 0.005)

	got = answer(t, "dilute", "--stock", "95.1..96.9%v/v", "--target", "70%v/v", "--volume", "1L",
		"--json")
	require.InDelta(t, 1000*70/95.1, got["stock_ml"], 1e-9)
	got = answer(t, "dilute", "--stock", "99.8%v/v", "--target", "75%v/v", "--volume", "10L",
		"--alcohol", "propan-2-ol", "--json")
	require.InDelta(t, 7515, got["stock_ml"], 0.6) // WHO guide, formula 2
	require.InDelta(t, 2738, got["water_ml"], 1)

	got = answer(t, "dilute", "--stock", "80%w/w", "--target", "70g/100g", "--mass", "1kg", "--json")
	requireKeys(t, got, "stock_ml", "water_ml", "stock_g", "water_g", "contraction_ml",
		"mistake_volume_percent")
	require.Equal(t, 875.0, got["stock_g"]) // by hand: 700 g of alcohol are in 875 g at 80 %
	require.Equal(t, 125.0, got["water_g"])
	require.Nil(t, got["stock_ml"])

	_, out, _ := call("dilute", "--stock", "80%w/w", "--target", "70%w/w", "--mass", "1000g")
	require.Contains(t, out, "weigh 875.0 g of stock, add water to 1000.0 g")
	_, out, _ = call("dilute", "--stock", "95.1..96.9%v/v", "--target", "70%v/v", "--volume", "1L")
	require.Contains(t, out, "planned with the low end of the stock, 95.10 % v/v")
	require.Contains(t, out, "make up with water to 1000.0 mL")
	require.Contains(t, out, "flammable")
}

func TestDiluteCommandRefuses(t *testing.T) {
	for says, args := range map[string]string{
		"not below the stock":       "--stock 70%v/v --target 70%v/v --volume 1L",
		"is below the least":        "--stock 96%v/v --target 59%v/v --volume 1L --min 60%v/v",
		"two ways to ask":           "--stock 80%w/w --target 70%w/w --volume 1L --mass 1kg",
		"is not by mass":            "--stock 96%v/v --target 70%v/v --mass 1kg",
		"mass: ":                    "--stock 80%w/w --target 70%w/w --mass 1000",
		"--volume is missing":       "--stock 96%v/v --target 70%v/v",
		"--stock: ":                 "--stock 96 --target 70%v/v --volume 1L",
		"--target: ":                "--stock 96%v/v --target 70 --volume 1L",
		"has no basis":              "--stock 96% --target 70%v/v --volume 1L",
		"volume: ":                  "--stock 96%v/v --target 70%v/v --volume 1000",
		"\"methanol\" is not known": "--stock 96%v/v --target 70%v/v --volume 1L --alcohol methanol",
		"--min: ":                   "--stock 96%v/v --target 70%v/v --volume 1L --min 60",
	} {
		requireRefused(t, says, append([]string{"dilute", "--json"}, strings.Fields(args)...)...)
	}
}

// TestWetnessCommand: 10 g/m² of 70 % v/v ethanol, computed elsewhere from the same model.
func TestWetnessCommand(t *testing.T) {
	args := []string{"wetness", "--part", "ethanol=70%v/v", "--grams-per-m2", "10",
		"--temperature", "20"}
	got := answer(t, append(args, "--json")...)
	requireKeys(t, got, "seconds", "low_seconds", "high_seconds", "seen_dry_seconds")
	require.InDelta(t, 35, got["seconds"], 0.6)
	require.InDelta(t, 17.3, got["low_seconds"], 0.3)
	require.InDelta(t, 69, got["high_seconds"], 1)
	require.InDelta(t, 139, got["seen_dry_seconds"], 0.6)
	got = answer(t, append(args, "--air", "0.5", "--humidity", "100", "--json")...)
	require.Nil(t, got["seen_dry_seconds"])
	requireKeys(t, got, "seconds", "low_seconds", "high_seconds", "seen_dry_seconds")
	_, out, _ := call(args...)
	require.Contains(t, out, "about 35 s, could be 17 s or 69 s")
	require.Contains(t, out, "never passes or fails anything")
}

func TestWetnessCommandRefuses(t *testing.T) {
	for says, args := range map[string]string{
		"--grams-per-m2 is missing": "--temperature 20 --part ethanol=70%v/v",
		"--temperature is missing":  "--grams-per-m2 10 --part ethanol=70%v/v",
		"--part is missing":         "--grams-per-m2 10 --temperature 20",
		"no single value":           "--grams-per-m2 10 --temperature 20 --part ethanol=70%",
		"film: ":                    "--grams-per-m2 0 --temperature 20 --part ethanol=70%v/v",
		"outside 0 to 40":           "--grams-per-m2 1 --temperature 41 --part ethanol=70%v/v",
		"air: ":                     "--grams-per-m2 1 --temperature 20 --part ethanol=70%v/v --air 0",
		"humidity: ":                "--grams-per-m2 1 --temperature 20 --part ethanol=7%v/v --humidity 101",
	} {
		requireRefused(t, says, append([]string{"wetness", "--json"}, strings.Fields(args)...)...)
	}
}
