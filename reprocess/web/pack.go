package web

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"handback/labels"
	"handback/reprocess"
)

// packFor is the plan of a kit for so many days; what cannot be planned is left out, the
// supervisor's page of the model says why.
func packFor(w *reprocess.World, k *reprocess.Kit, days int) reprocess.PackPlan {
	plan, p := reprocess.PlanPack(w, k, days)
	if p != nil {
		return reprocess.PackPlan{Days: days}
	}
	return plan
}

// packFrom is packFor for a loan that begins, or began, on a day.
func packFrom(w *reprocess.World, k *reprocess.Kit, days int, begin reprocess.Date) reprocess.PackPlan {
	plan, p := reprocess.PlanLoan(w, k, days, begin)
	if p != nil {
		return reprocess.PackPlan{Days: days}
	}
	return plan
}

// packOf is the plan that a loan went out with, by the days that stand now.
func packOf(w *reprocess.World, k *reprocess.Kit, l *reprocess.Loan) reprocess.PackPlan {
	if l.Out == 0 {
		return packFor(w, k, l.Days)
	}
	return packFrom(w, k, l.Days, reprocess.DateIn(l.Out, zoneOf(w)))
}

// packWords is what goes into the bag for a loan that begins on a day, one line each; nil when
// the model says nothing to plan from.
func packWords(w *reprocess.World, k *reprocess.Kit, days int, begin reprocess.Date) []string {
	plan := packFrom(w, k, days, begin)
	if plan.Electrodes == nil && plan.Battery == nil {
		return nil
	}
	lines := plan.PutIn()
	if len(plan.Parts) > 0 {
		lines = append(lines, strings.Join(plan.Parts, ", "))
	}
	if plan.Swallow {
		lines = append(lines, swallowCaution)
	}
	return lines
}

// swallowCaution is what every country's advice agrees on (National Capital Poison Center,
// battery ingestion guideline).
const swallowCaution = "Small round cells: keep them away from children; if swallowed, " +
	"call the emergency number at once, do not wait."

// datesFrom are days counted from a date, as dates.
func datesFrom(begin reprocess.Date, days []int) []reprocess.Date {
	var all []reprocess.Date
	for _, n := range days {
		all = append(all, begin.AddDays(n))
	}
	return all
}

func daysWords(dates []reprocess.Date) string {
	var words []string
	for _, d := range dates {
		words = append(words, reprocess.Day(d))
	}
	return strings.Join(words, ", ")
}

// loanPlan is what went along and when to change it, for the page of a loan. It is computed
// from the days that stand now, so a longer loan shows the longer plan.
func loanPlan(w *reprocess.World, k *reprocess.Kit, l *reprocess.Loan, now reprocess.Now) []Term {
	if l.Days < 1 {
		return nil
	}
	begin := now.Today()
	if l.Out != 0 {
		begin = reprocess.DateIn(l.Out, now.Zone)
	}
	plan := packFrom(w, k, l.Days, begin)
	var terms []Term
	if words := packWords(w, k, l.Days, begin); len(words) > 0 {
		terms = append(terms, Term{"Needed for " + strconv.Itoa(l.Days) + " days", strings.Join(words, "; ")})
	}
	if dates := datesFrom(begin, plan.ElectrodeDays()); len(dates) > 0 {
		terms = append(terms, Term{"Electrodes are changed on", daysWords(dates)})
	}
	if dates := datesFrom(begin, plan.BatteryDays()); len(dates) > 0 {
		terms = append(terms, Term{"The battery is changed on", daysWords(dates)})
	}
	return terms
}

// loanDays are the days that a slip is printed for: of the open loan, else until it is due.
func loanDays(l *reprocess.Loan, begin, due reprocess.Date) int {
	if l.Open() && l.Days > 0 && l.Due == due {
		return l.Days
	}
	return int(dayTime(due).Sub(dayTime(begin)).Hours() / 24)
}

// planSlip puts contents and change days on a slip; the contents are all of them.
func planSlip(s *labels.Slip, w *reprocess.World, k *reprocess.Kit, begin, due reprocess.Date) {
	days := loanDays(w.Loans[k.Loan], begin, due)
	if days < 1 {
		return
	}
	plan := packFrom(w, k, days, begin)
	var more []labels.Item
	if plan.Electrodes != nil {
		more = append(more, labels.Item{Name: "Electrodes", Count: plan.Electrodes.Total})
		s.Electrodes = slipDays(datesFrom(begin, plan.ElectrodeDays()))
	}
	if n := plan.CarriedCells(); n > 0 {
		more = append(more, labels.Item{Name: "Spare cells " + plan.Cell, Count: n})
	}
	if plan.Battery != nil {
		s.Battery = slipDays(datesFrom(begin, plan.BatteryDays()))
	}
	s.CoinCells = s.CoinCells || plan.Swallow
	pieces := min(len(k.Pieces), len(s.Contents))
	s.Contents = slices.Concat(s.Contents[:pieces], more, s.Contents[pieces:])
}

func slipDays(dates []reprocess.Date) []time.Time {
	var days []time.Time
	for _, d := range dates {
		days = append(days, dayTime(d))
	}
	return days
}

// slipRows is how many rows the small slip of the PDF has room for; the page has room for all.
const slipRows = 6

// fitContents counts parts that have no row of their own together: never left out.
func fitContents(all []labels.Item) []labels.Item {
	if len(all) <= slipRows {
		return all
	}
	others := labels.Item{Name: "Other parts"}
	for _, item := range all[slipRows-1:] {
		others.Count += item.Count
	}
	return append(all[:slipRows-1:slipRows-1], others)
}
