package main

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"handback/reprocess/wear"
)

func electrodesCommand() command {
	return command{
		name:  "electrodes",
		usage: "--days 14 --interval 3 --per-set 3 [--pack 30]",
		about: "how many electrode sets go into the kit, and when they are changed",
		run:   runElectrodes,
	}
}

// electrodesAnswer is what electrodes prints; packs is null without a pack size.
type electrodesAnswer struct {
	Sets       int         `json:"sets"`
	Electrodes int         `json:"electrodes"`
	Spare      int         `json:"spare"`
	Total      int         `json:"total"`
	Packs      *int        `json:"packs"`
	ChangeDays []wear.Days `json:"change_days"`
}

func runElectrodes(_ context.Context, args []string, s streams) error {
	f := newFlags("electrodes")
	days := f.String("days", "", "planned wear, days")
	interval := f.String("interval", "", "days one set stays on; of a range, the shorter end")
	perSet := f.String("per-set", "", "electrodes in one set")
	pack := f.String("pack", "", "electrodes in one pack")
	asJSON := f.Bool("json", false, "one JSON object")
	if _, err := f.parse(args, 0); err != nil {
		return err
	}
	if err := f.demand("days", "interval", "per-set"); err != nil {
		return err
	}
	need, err := electrodeNeed(*days, *interval, *perSet, *pack, f.given("pack"))
	if err != nil {
		return err
	}
	p, err := wear.PlanElectrodes(need)
	if err != nil {
		return err
	}
	return printElectrodes(s, p, need, *asJSON)
}

func electrodeNeed(days, interval, perSet, pack string, packed bool) (wear.ElectrodeNeed, error) {
	var n wear.ElectrodeNeed
	var err error
	if n.Days, err = wear.ParseDays(days); err != nil {
		return n, err
	}
	if n.Interval, err = wear.ParseDays(interval); err != nil {
		return n, err
	}
	if n.PerSet, err = parseCount("per-set", perSet); err != nil {
		return n, err
	}
	if packed {
		n.Pack, err = parseCount("pack", pack)
	}
	if err == nil && packed && n.Pack == 0 {
		err = fmt.Errorf("--pack 0 is no pack; leave it out, or state how many are in one")
	}
	return n, err
}

func printElectrodes(s streams, p wear.ElectrodePlan, n wear.ElectrodeNeed, asJSON bool) error {
	a := electrodesAnswer{p.Sets, p.Electrodes, p.Spare, p.Total, nil, p.ChangeDays}
	if n.Pack > 0 {
		a.Packs = &p.Packs
	}
	if asJSON {
		return printJSON(s.out, a)
	}
	lines := []string{fmt.Sprintf("%d sets, %d electrodes, and %d spare.", p.Sets,
		p.Electrodes, p.Spare)}
	if n.Pack > 0 {
		lines = append(lines, fmt.Sprintf("%d packs of %d.", p.Packs, n.Pack))
	}
	if len(p.ChangeDays) > 0 {
		days := strings.Trim(fmt.Sprint(p.ChangeDays), "[]")
		lines = append(lines, "Change on day "+strings.ReplaceAll(days, " ", ", ")+".")
	}
	return printText(s.out, fmt.Sprintf("%d electrodes in the kit", p.Total), lines...)
}

func batteryCommand() command {
	return command{
		name: "battery",
		usage: "--designation LR03 --capacity 1000 --current 2.0 --days 14" +
			" [--cells 1] [--derating 0.8]",
		about: "how long cells last, how many go into the kit, and when to change",
		run:   runBattery,
	}
}

// batteryAnswer is what battery prints; change_day is null if one set lasts.
type batteryAnswer struct {
	Hours     float64 `json:"hours"`
	Cells     int     `json:"cells"`
	ChangeDay *int    `json:"change_day"`
}

// batteryTexts are the values of battery as typed: capacity in mAh, current in mA.
type batteryTexts struct {
	designation, capacity, current, days, cells, derating string
}

func runBattery(_ context.Context, args []string, s streams) error {
	f := newFlags("battery")
	var t batteryTexts
	f.StringVar(&t.designation, "designation", "", "as printed on the cell, such as LR03")
	f.StringVar(&t.capacity, "capacity", "", "mAh")
	f.StringVar(&t.current, "current", "", "mean current, mA")
	f.StringVar(&t.days, "days", "", "planned wear, days")
	f.StringVar(&t.cells, "cells", "1", "cells in the device at once")
	f.StringVar(&t.derating, "derating", "", "share of the capacity to count on")
	asJSON := f.Bool("json", false, "one JSON object")
	if _, err := f.parse(args, 0); err != nil {
		return err
	}
	if err := f.demand("designation", "capacity", "current", "days"); err != nil {
		return err
	}
	need, err := t.need(f.given("derating"))
	if err != nil {
		return err
	}
	p, err := wear.PlanBattery(need)
	if err != nil {
		return err
	}
	return printBattery(s, p, t.designation, *asJSON)
}

func (t batteryTexts) need(derated bool) (wear.BatteryNeed, error) {
	var n wear.BatteryNeed
	cell, err := wear.CellOf(t.designation)
	if err != nil {
		return n, err
	}
	n.Chemistry = cell.Chemistry
	if n.Capacity, err = wear.ParseMilliampHours(t.capacity); err != nil {
		return n, err
	}
	if n.Current, err = wear.ParseMilliamps(t.current); err != nil {
		return n, err
	}
	if n.Days, err = wear.ParseDays(t.days); err != nil {
		return n, err
	}
	if n.InDevice, err = parseCount("cells", t.cells); err != nil {
		return n, err
	}
	if derated {
		n.Derating, err = wear.ParseDerating(t.derating)
	} else {
		n.Derating, err = wear.DeratingOf(cell.Chemistry, false, 0)
	}
	return n, err
}

func printBattery(s streams, p wear.BatteryPlan, designation string, asJSON bool) error {
	a := batteryAnswer{p.Hours, p.Cells, nil}
	if p.Sets > 1 {
		a.ChangeDay = &p.ChangeDay
	}
	if asJSON {
		return printJSON(s.out, a)
	}
	lines := []string{fmt.Sprintf("One set runs about %s h before the reserve is taken off.",
		strconv.FormatFloat(p.Hours, 'f', 1, 64))}
	if p.Sets > 1 {
		lines = append(lines, fmt.Sprintf("Change every %d days.", p.ChangeDay))
	}
	if cell, err := wear.CellOf(designation); err == nil && cell.SwallowCaution() {
		lines = append(lines, "Coin cells: keep away from children; if one is swallowed, call"+
			" the emergency number at once.")
	}
	return printText(s.out, fmt.Sprintf("%d cells %s in the kit", p.Cells, designation), lines...)
}
