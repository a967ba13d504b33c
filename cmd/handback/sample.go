package main

import (
	"context"
	"fmt"

	"handback/reprocess/sampling"
)

func sampleCommand() command {
	return command{
		name:  "sample",
		usage: "[--population 100] --rate 5% --confidence 95% [--failures 0]",
		about: "how many records an audit has to read",
		run:   runSample,
	}
}

// sampleAnswer is what sample prints; tolerated is null without a population.
type sampleAnswer struct {
	N         int64  `json:"n"`
	Tolerated *int64 `json:"tolerated"`
	ReviewAll bool   `json:"review_all"`
}

func runSample(_ context.Context, args []string, s streams) error {
	f := newFlags("sample")
	population := f.String("population", "", "records in the pool")
	rate := f.String("rate", "", "tolerable rate, with %")
	confidence := f.String("confidence", "", "confidence, with %")
	failures := f.String("failures", "0", "bad records allowed in the sample")
	asJSON := f.Bool("json", false, "one JSON object")
	if _, err := f.parse(args, 0); err != nil {
		return err
	}
	if err := f.demand("rate", "confidence"); err != nil {
		return err
	}
	shares, err := parseEach([]string{*rate, *confidence}, sampling.ParseShare)
	if err != nil {
		return err
	}
	allowed, err := parseCount("failures", *failures)
	if err != nil {
		return err
	}
	if !f.given("population") {
		p, err := sampling.Open(shares[0], shares[1], allowed)
		return printSample(s, p, err, nil, *asJSON)
	}
	size, err := parseCount("population", *population)
	if err != nil {
		return err
	}
	p, err := sampling.Pool(int64(size), shares[0], shares[1], allowed)
	return printSample(s, p, err, &p.Tolerated, *asJSON)
}

func printSample(s streams, p sampling.Plan, err error, tolerated *int64, asJSON bool) error {
	if err != nil {
		return err
	}
	if asJSON {
		return printJSON(s.out, sampleAnswer{p.N, tolerated, p.ReviewAll})
	}
	if p.ReviewAll {
		return printText(s.out, fmt.Sprintf("read all %d records", p.N))
	}
	return printText(s.out, fmt.Sprintf("read %d records", p.N))
}
