package web

import (
	"cmp"
	"net/url"
	"slices"
	"strings"

	"handback/reprocess"
)

// benchPage is what stands where at the bench. People are named only as whom to ask.
type benchPage struct {
	Base
	Wet     []wetLine
	Groups  []Group
	Idle    bool
	MaySign bool
}

// wetLine is one running piece.
type wetLine struct {
	Line
	Wet  Wet
	left int // seconds
}

func kitAt(kit string) string { return "/kit/" + url.PathEscape(kit) }

func showBench(v *Visit) error {
	w, err := v.Store().OpenKits(v.Context())
	if err != nil {
		return err
	}
	page := benchOf(w, v.Now)
	page.MaySign = acts(reprocess.ActRelease).lets(v.Person)
	return v.Show(page)
}

// benchOf draws the bench: wet now, then each group, what waits longest first.
func benchOf(w *reprocess.World, now reprocess.Now) *benchPage {
	page := &benchPage{Base: Titled("What is next on the bench?"), Wet: wetLines(w, now)}
	kits := make([]*reprocess.Kit, 0, len(w.Kits))
	for _, k := range w.Kits {
		kits = append(kits, k)
	}
	slices.SortFunc(kits, func(a, b *reprocess.Kit) int {
		return cmp.Or(cmp.Compare(since(a), since(b)), reprocess.ByNumber(a, b))
	})
	for _, g := range benchGroups {
		group := Group{Heading: g.heading}
		for _, k := range kits {
			if note, ok := g.note(w, k, now); ok {
				note = strings.Join(append([]string{note}, checkWords(w, k, now)...), " ")
				group.Lines = append(group.Lines, Line{kitAt(k.ID), k.Number, note})
			}
		}
		if len(group.Lines) > 0 {
			page.Groups = append(page.Groups, group)
		}
	}
	page.Idle = len(page.Groups) == 0 && len(page.Wet) == 0
	return page
}

// since is when a kit came into the house, or else when its state changed last.
func since(k *reprocess.Kit) reprocess.Instant {
	if k.Back != 0 {
		return k.Back
	}
	return k.Since
}

// benchGroups is the table of the groups, in the order they are shown; note tells whether a
// kit belongs there and what is said of it.
var benchGroups = []struct {
	heading string
	note    func(*reprocess.World, *reprocess.Kit, reprocess.Now) (string, bool)
}{
	{"Half done", halfDone},
	{"In the box", inBox},
	{"Waiting, to look at today", waitingDue},
	{"On hold", onHold},
	{"Awaiting release", awaiting},
	{"Aside", aside},
}

// wetLines are the running pieces, the next to finish first.
func wetLines(w *reprocess.World, now reprocess.Now) []wetLine {
	var all []wetLine
	for _, k := range w.Kits {
		for _, id := range k.Pieces {
			p := w.Pieces[id]
			if wet, ok := running(w, p); ok {
				name := k.Number + " " + string(p.Kind)
				t := WetFrom(name, wet, now, "")
				t.Rows = t.Rows[len(t.Rows)-1:]
				all = append(all, wetLine{Line{kitAt(k.ID), name, ""}, t, t.NeededS - t.WorkedS})
			}
		}
	}
	slices.SortFunc(all, func(a, b wetLine) int {
		return cmp.Or(cmp.Compare(a.left, b.left), cmp.Compare(a.Words, b.Words))
	})
	return all
}

// running gives the contact time of a piece that is wet now and has not been seen wet long
// enough yet; after that it dries, and stands with what comes next.
func running(w *reprocess.World, p *reprocess.Piece) (reprocess.Wet, bool) {
	if p == nil || w.Cycles[p.Cycle] == nil || w.Cycles[p.Cycle].Ended != 0 {
		return reprocess.Wet{}, false
	}
	progress := w.Cycles[p.Cycle].Progress()
	_, done := progress.Done[reprocess.StepDisinfection]
	return progress.Wet, progress.Wet.Open && !done
}

func heldBy(w *reprocess.World, k *reprocess.Kit) *reprocess.Hold {
	for _, id := range k.Pieces {
		if p := w.Pieces[id]; p != nil && len(p.Holds) > 0 {
			return &p.Holds[0]
		}
	}
	return nil
}

// isWet tells whether a piece is wet now; such a kit stands with the running ones.
func isWet(w *reprocess.World, k *reprocess.Kit) bool {
	for _, id := range k.Pieces {
		if _, ok := running(w, w.Pieces[id]); ok {
			return true
		}
	}
	return false
}

// halfDone says for each track what comes next and who did the last step.
func halfDone(w *reprocess.World, k *reprocess.Kit, now reprocess.Now) (string, bool) {
	if heldBy(w, k) != nil || isWet(w, k) ||
		reprocess.KitState(k, w.Pieces) != reprocess.InReprocessing {
		return "", false
	}
	var parts []string
	last := reprocess.Record{}
	for _, id := range k.Pieces {
		p := w.Pieces[id]
		if p == nil || w.Cycles[p.Cycle] == nil || w.Cycles[p.Cycle].Ended != 0 {
			continue
		}
		step, _ := reprocess.FindStep(w.NextStep(p))
		parts = append(parts, string(p.Kind)+" next: "+strings.ToLower(step.Words))
		for _, r := range w.Cycles[p.Cycle].Records {
			if !r.Undone && r.Seq > last.Seq {
				last = r
			}
		}
	}
	note := upper(strings.Join(parts, ", ")) + "."
	if last.Name != "" {
		note += " " + last.Name + ", " + age(last.Mark.At, now) + "."
	}
	return note + waitWords(k), true
}

// inBox shows both clocks: in the house, and opened. A parcel of a weekend is no breach, so
// nothing is judged here.
func inBox(w *reprocess.World, k *reprocess.Kit, now reprocess.Now) (string, bool) {
	s := reprocess.KitState(k, w.Pieces)
	if heldBy(w, k) != nil || s != reprocess.Returned && s != reprocess.Registered {
		return "", false
	}
	note := "Never reprocessed here."
	if k.Back != 0 {
		note = "In the house for " + span(k.Back, now.UTC) + ", not opened."
		if k.Opened != 0 {
			note = "In the house for " + span(k.Back, now.UTC) + ", opened for " +
				span(k.Opened, now.UTC) + "."
		}
	}
	if k.Place != "" {
		note += " " + upper(k.Place) + "."
	}
	return note + waitWords(k), true
}

// waitWords lists what a kit waits for.
func waitWords(k *reprocess.Kit) string {
	text := ""
	for _, x := range k.Waiting {
		text += " Waiting for " + reprocess.WaitWords(x.Reason)
		if x.Who != "" {
			text += " (" + x.Who + ")"
		}
		text += "."
	}
	return text
}

// waitingDue are the reasons somebody said to look at by today.
func waitingDue(_ *reprocess.World, k *reprocess.Kit, now reprocess.Now) (string, bool) {
	var due []string
	for _, x := range k.Waiting {
		if x.Next != "" && x.Next <= now.Today() {
			text := reprocess.WaitWords(x.Reason)
			if x.Who != "" {
				text += ", " + x.Who
			}
			due = append(due, text+", to look at on "+reprocess.Day(x.Next))
		}
	}
	return upper(strings.Join(due, "; ")) + ".", len(due) > 0
}

func onHold(w *reprocess.World, k *reprocess.Kit, now reprocess.Now) (string, bool) {
	h := heldBy(w, k)
	if h == nil {
		return "", false
	}
	return upper(reprocess.HoldWords(h.Reason)) + ", for " + span(h.At, now.UTC) + ".", true
}

func awaiting(w *reprocess.World, k *reprocess.Kit, now reprocess.Now) (string, bool) {
	if heldBy(w, k) != nil || reprocess.KitState(k, w.Pieces) != reprocess.AwaitingRelease {
		return "", false
	}
	return "Every step is done." + waitWords(k), true
}

// asideWords are the states that nobody works on at the bench.
var asideWords = map[reprocess.State]string{reprocess.Embargoed: "Stopped.",
	reprocess.Recalled: "Being called back.", reprocess.OutForRepair: "Out for repair.",
	reprocess.Missing: "A piece of it is missing."}

func aside(w *reprocess.World, k *reprocess.Kit, now reprocess.Now) (string, bool) {
	words, ok := asideWords[reprocess.KitState(k, w.Pieces)]
	if heldBy(w, k) != nil || !ok {
		return "", false
	}
	return words + " For " + span(k.Since, now.UTC) + ".", true
}

func sampleBench() Page {
	t := Wet{Name: "17 recorder", StartMS: 1_790_000_000_000, NeededS: 60, Left: "0:19",
		Rows: []WetRow{{Running: true}}}
	return &benchPage{Base: Titled("What is next on the bench?"), MaySign: true,
		Wet:    []wetLine{{Line{"/kit/K1", "17 recorder", ""}, t, 19}},
		Groups: []Group{{"In the box", []Line{{"/kit/K2", "18", "In the house for 2 h, not opened."}}}}}
}
