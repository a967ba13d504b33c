package export

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"handback/reprocess"
)

// cycleRow is one cycle, folded from its records.
type cycleRow struct {
	w *reprocess.World
	*reprocess.Cycle
	progress reprocess.Progress
	best     reprocess.Interval // longest unbroken watched one
	wet      bool               // there is one
	from     int64              // entry that began it; 0: earlier than the entries here
	released int64              // entry that released it
	why      string             // why it was broken off
	paper    bool               // the loan it follows began on paper
}

// cycleColumns is the table of cycles. Never change, reorder or remove one.
var cycleColumns = []column[*cycleRow]{
	{Column{"cycle", "", "id of the cycle", true}, func(r *cycleRow) string { return r.ID }},
	{Column{"piece", "", "id of the piece", true}, func(r *cycleRow) string { return r.Piece }},
	{Column{"kind", "", "recorder or phone", true}, piece(pieceKind)},
	{Column{"model", "", "name of the model", true},
		func(r *cycleRow) string { return r.model() }},
	{Column{"serial", "", "serial number", true}, piece(pieceSerial)},
	{Column{"kit", "", "id of the kit", true}, func(r *cycleRow) string { return r.Kit }},
	{Column{"kit_number", "", "pool number of the kit", true},
		func(r *cycleRow) string { return r.kitNumber() }},
	{Column{"number", "", "number of the cycle of this piece, earlier ones included", false},
		func(r *cycleRow) string { return count(r.Number) }},
	{Column{"number_at_least", "", "yes: earlier cycles were not known when it was taken over",
		true}, piece(pieceAtLeast)},
	{Column{"procedure", "", "procedure and version", true},
		func(r *cycleRow) string { return r.Procedure }},
	{Column{"opened", "UTC", "when it began; empty: before the entries here", false},
		func(r *cycleRow) string { return instant(r.Opened) }},
	{Column{"opened_entry", "", "entry that began it", false},
		func(r *cycleRow) string { return count(r.from) }},
	{Column{"loan", "", "id of the loan it follows", true},
		func(r *cycleRow) string { return r.Loan }},
	{Column{"loan_taken_over", "", "yes: that loan began on paper, before this log", true},
		func(r *cycleRow) string { return yes(r.paper) }},
	{Column{"flags", "", "precautions told for this return", true},
		func(r *cycleRow) string { return strings.Join(r.Flags, " ") }},
	{Column{"contact_s", "s", "longest unbroken time it was watched wet", false},
		func(r *cycleRow) string { return r.contact() }},
	{Column{"needed_s", "s", "contact time that was in force for it", false},
		func(r *cycleRow) string { return count(r.best.NeededS) }},
	{Column{"wet_long_enough", "", "yes or no; empty: never recorded wet", true},
		func(r *cycleRow) string { return r.conforms() }},
	{Column{"wettings", "", "how often it was wetted anew", false},
		func(r *cycleRow) string { return count(len(r.progress.Wet.Intervals)) }},
	{Column{"not_looked_s", "s", "longest time nobody looked, as confirmed", false},
		func(r *cycleRow) string { return r.notLooked() }},
	{Column{"containers", "", "ids of the containers of disinfectant", true},
		used(func(i reprocess.Interval) []string { return i.Containers })},
	{Column{"lots", "", "ids of their lots", true},
		used(func(i reprocess.Interval) []string { return i.Lots })},
	{Column{"lot_numbers", "", "printed numbers of those lots", true},
		func(r *cycleRow) string { return r.lotNumbers() }},
	{Column{"products", "", "ids of the disinfectants", true},
		used(func(i reprocess.Interval) []string { return []string{i.Product} })},
	{Column{"product_names", "", "their names", true},
		func(r *cycleRow) string { return r.productNames() }},
	{Column{"cell_lot", "", "id of the lot of the new cell", true},
		answered(reprocess.StepBattery, "cell")},
	{Column{"charge_percent", "%", "charge of the phone", false},
		answered(reprocess.StepBattery, "charge")},
	{Column{"function_test", "", "answer to: arrived and usable?", true},
		answered(reprocess.StepFunction, "signal")},
	{Column{"test_from", "", "what the test signal was from", true},
		answered(reprocess.StepFunction, "worn_by")},
	{Column{"test_reference", "", "reference of the test recording", true},
		answered(reprocess.StepFunction, "reference")},
	{Column{"steps_done", "", "steps that count as done", true},
		func(r *cycleRow) string { return r.steps() }},
	{Column{"failed_answers", "", "answers that made a step to be done again or a hold", true},
		func(r *cycleRow) string { return r.failures() }},
	{Column{"overrides", "", "steps accepted not as written, with the reason", true},
		func(r *cycleRow) string { return r.overrides() }},
	{Column{"late", "", "yes: something was entered later, from paper", true},
		func(r *cycleRow) string { return yes(r.progress.Late) }},
	{Column{"learning", "", "records by a learner", false},
		func(r *cycleRow) string { return r.learning() }},
	{Column{"not_countersigned", "", "of those, not countersigned", false},
		func(r *cycleRow) string { return count(len(r.progress.Unsigned)) }},
	{Column{"taken_back", "", "records taken back as tapped by mistake", false},
		func(r *cycleRow) string { return r.undone() }},
	{Column{"people", "", "ids of who recorded something", true},
		func(r *cycleRow) string { return r.people() }},
	{Column{"end", "", "released or broken_off; empty: still open", true},
		func(r *cycleRow) string { return string(r.End) }},
	{Column{"ended", "UTC", "when it ended", false},
		func(r *cycleRow) string { return instant(r.Ended) }},
	{Column{"end_reason", "", "why it was broken off", true},
		func(r *cycleRow) string { return r.why }},
	{Column{"releaser", "", "id of who released it", true},
		func(r *cycleRow) string { return r.Releaser }},
	{Column{"release_entry", "", "entry that released it", false},
		func(r *cycleRow) string { return count(r.released) }},
}

// writeCycles folds all entries and writes the cycles that began within the choice, in the
// order they began.
func writeCycles(w io.Writer, entries Entries, c Choice) (int64, error) {
	out, err := newCSV(w, cycleColumns)
	if err != nil {
		return 0, err
	}
	f, err := foldAll(entries)
	if err != nil {
		return 0, err
	}
	for _, id := range f.order {
		row, err := f.cycle(id)
		if err != nil {
			return out.rows, err
		}
		if !c.holds(row.Opened, row.Kit) {
			continue
		}
		if err := out.row(row); err != nil {
			return out.rows, err
		}
	}
	return out.rows, nil
}

func pieceKind(p *reprocess.Piece) string    { return string(p.Kind) }
func pieceSerial(p *reprocess.Piece) string  { return p.Serial }
func pieceAtLeast(p *reprocess.Piece) string { return yes(p.AtLeast) }

func piece(get func(*reprocess.Piece) string) func(*cycleRow) string {
	return func(r *cycleRow) string {
		if p := r.w.Pieces[r.Piece]; p != nil {
			return get(p)
		}
		return ""
	}
}

func (r *cycleRow) model() string {
	p := r.w.Pieces[r.Piece]
	if p == nil {
		return ""
	}
	if m := r.w.Models[p.Model]; m != nil {
		return m.Name
	}
	return p.Model
}

func (r *cycleRow) kitNumber() string {
	if k := r.w.Kits[r.Kit]; k != nil {
		return k.Number
	}
	return ""
}

// contact is in seconds with three decimals: exactly the milliseconds that were measured.
func (r *cycleRow) contact() string {
	if !r.wet || r.best.Paper { // a time from paper was never measured
		return ""
	}
	return fmt.Sprintf("%d.%03d", r.best.MS/1000, r.best.MS%1000)
}

func (r *cycleRow) conforms() string {
	switch {
	case !r.wet:
		return ""
	case r.progress.Wet.Conforms():
		return "yes"
	}
	return "no"
}

func (r *cycleRow) notLooked() string {
	most := 0
	for _, rec := range r.counting() {
		most = max(most, rec.NotLookS)
	}
	return count(most)
}

// counting are the records that were not taken back.
func (r *cycleRow) counting() []reprocess.Record {
	var list []reprocess.Record
	for _, rec := range r.Records {
		if !rec.Undone {
			list = append(list, rec)
		}
	}
	return list
}

// used joins what all wettings of the cycle used, in order.
func used(get func(reprocess.Interval) []string) func(*cycleRow) string {
	return func(r *cycleRow) string {
		var ids []string
		for _, i := range r.progress.Wet.Intervals {
			ids = addOnce(ids, get(i)...)
		}
		return strings.Join(ids, " ")
	}
}

func (r *cycleRow) lotNumbers() string {
	var numbers []string
	for _, i := range r.progress.Wet.Intervals {
		for _, id := range i.Lots {
			if l := r.w.Lots[id]; l != nil {
				numbers = addOnce(numbers, l.Number)
			}
		}
	}
	return strings.Join(numbers, "; ")
}

func (r *cycleRow) productNames() string {
	var names []string
	for _, i := range r.progress.Wet.Intervals {
		if p := r.w.Products[i.Product]; p != nil {
			names = addOnce(names, p.Name)
		}
	}
	return strings.Join(names, "; ")
}

// answered gives the answer of the record that finished a step.
func answered(step reprocess.StepID, ask string) func(*cycleRow) string {
	return func(r *cycleRow) string { return r.progress.Done[step].Answered(ask) }
}

// steps lists the done steps in the order of the table of steps.
func (r *cycleRow) steps() string {
	var done []string
	for _, s := range reprocess.Steps() {
		if _, ok := r.progress.Done[s.ID]; ok {
			done = append(done, string(s.ID))
		}
	}
	return strings.Join(done, " ")
}

func (r *cycleRow) failures() string {
	var texts []string
	for _, rec := range r.counting() {
		for _, a := range rec.Answers {
			if a.Effect == reprocess.EffectAgain || a.Effect == reprocess.EffectHold {
				texts = append(texts, string(rec.Step)+" "+a.Ask+"="+a.Value)
			}
		}
	}
	return strings.Join(texts, "; ")
}

func (r *cycleRow) overrides() string {
	var texts []string
	for _, rec := range r.counting() {
		if rec.Kind == reprocess.RecOverride {
			texts = append(texts, strings.TrimSuffix(string(rec.Step)+": "+rec.Reason, ": "))
		}
	}
	return strings.Join(texts, "; ")
}

func (r *cycleRow) learning() string {
	n := 0
	for _, rec := range r.counting() {
		if rec.Learning {
			n++
		}
	}
	return count(n)
}

func (r *cycleRow) undone() string { return count(len(r.Records) - len(r.counting())) }

func (r *cycleRow) people() string {
	var ids []string
	for _, rec := range r.counting() {
		did, _ := rec.Did()
		ids = addOnce(ids, rec.By, did)
	}
	slices.Sort(ids)
	return strings.Join(ids, " ")
}
