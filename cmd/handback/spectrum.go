package main

import (
	"context"
	"strings"

	"handback/reprocess/spectrum"
)

func spectrumCommand() command {
	return command{
		name:  "spectrum",
		usage: "[--flag FLAG ...] --claim TOKEN:SECONDS ...",
		about: "do a product's claims cover what this return demands, and for how long wet",
		run:   runSpectrum,
	}
}

// spectrumAnswer is what spectrum prints; contact_seconds is null unless everything is covered.
type spectrumAnswer struct {
	Needed  []spectrum.Token                  `json:"needed"`
	Covered map[spectrum.Token]spectrum.Cover `json:"covered"`
	Missing []spectrum.Token                  `json:"missing"`
	Seconds *int                              `json:"contact_seconds"`
	Verdict spectrum.Verdict                  `json:"verdict"`
	Why     string                            `json:"why"`
}

func runSpectrum(_ context.Context, args []string, s streams) error {
	f := newFlags("spectrum")
	var flags, claims textList
	f.Var(&flags, "flag", "what is known about the return")
	f.Var(&claims, "claim", "a claim of the product, TOKEN:SECONDS")
	asJSON := f.Bool("json", false, "one JSON object")
	if _, err := f.parse(args, 0); err != nil {
		return err
	}
	known, err := parseEach(flags, spectrum.ParseFlag)
	if err != nil {
		return err
	}
	offers, err := parseEach(claims, spectrum.ParseOffer)
	if err != nil {
		return err
	}
	r, err := spectrum.Judge(known, nil, offers)
	if err != nil {
		return err
	}
	return printSpectrum(s, r, *asJSON)
}

func printSpectrum(s streams, r spectrum.Result, asJSON bool) error {
	a := spectrumAnswer{r.Needed, r.Covered, r.Missing, nil, r.Verdict, strings.Join(r.Why, " ")}
	if r.Verdict == spectrum.Pass {
		a.Seconds = &r.Seconds
	}
	if asJSON {
		return printJSON(s.out, a)
	}
	return printText(s.out, string(r.Verdict), r.Why...)
}
