package web

import (
	"strings"

	"slices"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// receiptPage says what came back; it is shown, or printed by the browser.
type receiptPage struct {
	Base
	Clinic, Call string
	Lines        []Term
}

// Term is one line of a list of terms.
type Term struct{ Term, Words string }

func showReceipt(v *Visit) error {
	id := v.Param("kit")
	w, err := v.Store().KitWorld(v.Context(), id)
	if err != nil {
		return notKnown(err, "There is no such kit here.")
	}
	last, err := v.lastReturn(id)
	if err != nil {
		return err
	}
	if last == nil {
		return &reprocess.Problem{Code: reprocess.NotFound, Rule: "no_return",
			Text: "No return of kit " + w.Kits[id].Number + " is recorded.", Fix: "Take it back first."}
	}
	return v.Show(receiptOf(w, w.Kits[id], last, v.Now))
}

// lastReturn is the newest entry by which a kit came back, also in a swap; nil when none did.
func (v *Visit) lastReturn(kit string) (*reprocess.Entry, error) {
	var last *reprocess.Entry
	for _, act := range []reprocess.Act{reprocess.ActReturn, reprocess.ActSwap} {
		entries, err := v.Store().Entries(v.Context(), sqlite.Filter{Kit: kit, Act: act,
			Result: reprocess.ResultDone}, 0, 20)
		if err != nil {
			return nil, err
		}
		for _, e := range entries {
			if cameBack(e) && (last == nil || e.Seq > last.Seq) {
				last = e
			}
		}
	}
	return last, nil
}

func cameBack(e *reprocess.Entry) bool {
	return slices.ContainsFunc(e.Events, func(b reprocess.Box) bool {
		_, back := b.Event.(reprocess.TakenBack)
		return back
	})
}

func receiptOf(w *reprocess.World, k *reprocess.Kit, e *reprocess.Entry,
	now reprocess.Now) *receiptPage {
	p := &receiptPage{Base: Titled("Taken back: kit " + k.Number), Clinic: w.Settings.Clinic,
		Call: w.Settings.Contact}
	for _, b := range e.Events {
		back, ok := b.Event.(reprocess.TakenBack)
		if !ok {
			continue
		}
		p.Lines = []Term{{"When", reprocess.Clock(e.At, now.Zone)}, {"Taken by", e.Name},
			{"What came", piecesWords(w, back.Came)},
			{"What should have come", shouldWords(w, k)},
			{"Skin trouble", answerWords[back.Return.Skin]},
			{"Fault", answerWords[back.Return.Fault]},
			{"Anything missing", answerWords[back.Return.Missing]}}
		if len(back.Return.Parts) > 0 {
			p.Lines = append(p.Lines, Term{"Missing", strings.Join(back.Return.Parts, ", ")})
		}
		if words := shortWords(back.Return); words != "" {
			p.Lines = append(p.Lines, Term{"Not back of what was to be used up", upper(words) + "."})
		}
		if back.Return.Left != "" {
			p.Lines = append(p.Lines, Term{"Single-use parts", leftOverWords[back.Return.Left]})
		}
		if back.Return.Worn != "" {
			p.Lines = append(p.Lines, Term{"On the ward", upper(wornWords(back.Return.Worn)) + "."})
		}
		if back.Return.Custody != "" {
			p.Lines = append(p.Lines, Term{"Before", "It was not recorded as out."})
		}
	}
	return p
}
