package main

import (
	"context"
	"fmt"
	"io"

	"handback/reprocess/strength"
)

func wetnessCommand() command {
	return command{
		name: "wetness",
		usage: "--part NAME=FIGUREUNIT ... --grams-per-m2 10 --temperature 20 [--air 0.2] " +
			"[--humidity 50] [--json]",
		about: "how long a wiped film keeps its strength, as advice only",
		run:   runWetness,
	}
}

type wetnessAnswer struct {
	Seconds float64  `json:"seconds"`
	Low     float64  `json:"low_seconds"`
	High    float64  `json:"high_seconds"`
	SeenDry *float64 `json:"seen_dry_seconds"`
}

func runWetness(_ context.Context, args []string, s streams) error {
	f := newFlags("wetness")
	var parts textList
	f.Var(&parts, "part", "an alcohol and its strength, may be repeated")
	grams := f.String("grams-per-m2", "", "mass of the film")
	temperature := f.String("temperature", "", "temperature in °C")
	air := f.String("air", "0.2", "speed of the air in metres per second")
	humidity := f.String("humidity", "50", "relative humidity in per cent")
	asJSON := f.Bool("json", false, "one JSON object")
	if _, err := f.parse(args, 0); err != nil {
		return err
	}
	if err := f.need("grams-per-m2", "temperature"); err != nil {
		return err
	}
	film, err := readFilm(parts, *grams, *temperature, *air, *humidity)
	if err != nil {
		return fmt.Errorf("wetness: %w", err)
	}
	wet, err := strength.EstimateWetness(film)
	if err != nil {
		return fmt.Errorf("wetness: %w", err)
	}
	if *asJSON {
		answer := wetnessAnswer{float64(wet.Seconds), float64(wet.Low), float64(wet.High), nil}
		if wet.SeenDry != nil {
			answer.SeenDry = number(*wet.SeenDry)
		}
		return printJSON(s.out, answer)
	}
	_, err = io.WriteString(s.out, strength.Text(wet.Lines()))
	return err
}

func readFilm(parts []string, grams, temperature, air, humidity string) (
	film strength.Film, err error) {
	if film.Parts, err = readParts(parts); err != nil {
		return film, err
	}
	if film.Mass, err = strength.ParseFilm(grams); err != nil {
		return film, err
	}
	if film.Temperature, err = strength.ParseCelsius(temperature); err != nil {
		return film, err
	}
	if film.Air, err = strength.ParseAir(air); err != nil {
		return film, err
	}
	film.Humidity, err = strength.ParseHumidity(humidity)
	return film, err
}
