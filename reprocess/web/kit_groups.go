package web

import (
	"slices"
	"strings"

	"handback/reprocess"
)

// group is the pieces that stand at the same step and are asked together.
type group struct {
	step    reprocess.Step
	running bool // a wet time is being watched
	tracks  []reprocess.Track
}

func (g group) ids() []string {
	var ids []string
	for _, t := range g.tracks {
		ids = append(ids, t.Piece.ID)
	}
	return ids
}

func (g group) has(piece string) bool { return slices.Contains(g.ids(), piece) }

// who names the pieces of a group: "Both", "Recorder", "Phone".
func (g group) who() string {
	if len(g.tracks) > 1 {
		return "Both"
	}
	return capital(string(g.tracks[0].Piece.Kind))
}

// groups lists what can be done now, the scanned piece first, then what is wet, then the
// earlier step. Steps of the whole kit wait until every piece is there.
func (x *view) groups() []group {
	var all []group
	for _, t := range x.tracks {
		step, ok := reprocess.FindStep(t.Next)
		if !ok {
			continue
		}
		i := slices.IndexFunc(all, func(g group) bool {
			return g.step.ID == t.Next && g.running == t.Running()
		})
		if i < 0 {
			all = append(all, group{step: step, running: t.Running()})
			i = len(all) - 1
		}
		all[i].tracks = append(all[i].tracks, t)
	}
	all = slices.DeleteFunc(all, x.waits)
	slices.SortStableFunc(all, func(a, b group) int { return x.rank(a) - x.rank(b) })
	return all
}

// waits tells whether a group has to wait for the other piece.
func (x *view) waits(g group) bool {
	return g.step.KitWide && len(g.tracks) != len(x.k.Pieces)
}

func (x *view) rank(g group) int {
	rank := slices.IndexFunc(reprocess.Steps(), func(s reprocess.Step) bool {
		return s.ID == g.step.ID
	})
	switch {
	case g.has(x.piece):
		return rank - 200
	case g.running:
		return rank - 100
	}
	return rank
}

// trackLine is how one piece stands.
type trackLine struct{ Piece, Next, Done, To, Act string }

// undoForm offers to take the own last tap back.
type undoForm struct {
	Of    int64
	Words string
}

// trackLines says how each piece stands, with the way to the track that is not asked now.
func (x *view) trackLines(groups []group) []trackLine {
	var lines []trackLine
	for _, t := range x.tracks {
		line := trackLine{Piece: capital(string(t.Piece.Kind)), Done: x.lastDone(t)}
		step, ok := reprocess.FindStep(t.Next)
		switch {
		case !ok:
			line.Next = t.Why
		case t.Running():
			line.Next = "wet now"
		case x.waits(group{step: step, tracks: []reprocess.Track{t}}) && !x.together(groups, t):
			line.Next = strings.ToLower(step.Words) + ", when the other piece is there too"
		default:
			line.Next = "next: " + strings.ToLower(step.Words)
		}
		for i, g := range groups {
			if i > 0 && g.has(t.Piece.ID) && x.v.may(reprocess.ActStep) {
				line.To = kitURL(x.k.ID, "piece", t.Piece.ID)
				line.Act = "Go on with the " + string(t.Piece.Kind)
			}
		}
		lines = append(lines, line)
	}
	return lines
}

func (x *view) together(groups []group, t reprocess.Track) bool {
	return slices.ContainsFunc(groups, func(g group) bool { return g.has(t.Piece.ID) })
}

// lastDone is the newest finished step of the open cycle as a sentence with who and when.
func (x *view) lastDone(t reprocess.Track) string {
	best := reprocess.Record{}
	for _, r := range t.Progress.Done {
		if r.Seq > best.Seq {
			best = r
		}
	}
	step, ok := reprocess.FindStep(best.Step)
	if !ok {
		return ""
	}
	return step.Done + ". " + didWords(best, x.v.Now) + "."
}

// undo offers to take back the own newest tap, while the rule would take it.
func (x *view) undo() *undoForm {
	for _, t := range x.tracks {
		if t.Cycle == nil {
			continue
		}
		for i := len(t.Cycle.Records) - 1; i >= 0; i-- {
			r := t.Cycle.Records[i]
			if r.Undone {
				continue
			}
			_, p := reprocess.Decide(x.w, reprocess.Undo{Kit: x.k.ID, Of: r.Seq}, x.v.Actor(), x.v.Now, 0)
			if p == nil {
				return &undoForm{r.Seq, recordWords(r)}
			}
			break
		}
	}
	return nil
}

// undoTap takes the own last tap back.
func undoTap(v *Visit) error {
	x, err := v.view(v.Param("id"))
	if err != nil {
		return err
	}
	if _, err = v.Do(reprocess.Undo{Kit: x.k.ID, Of: number(v.Field("of"))}); err != nil {
		return v.Refuse(err, x.page())
	}
	return v.Went(kitURL(x.k.ID), "Taken back: tapped by mistake.")
}
