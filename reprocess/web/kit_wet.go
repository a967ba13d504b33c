package web

import (
	"fmt"
	"slices"
	"strings"

	"handback/reprocess"
	"handback/reprocess/strength"
)

// wetForm asks whether the whole surface is wet, and by which container.
type wetForm struct {
	Question string
	Pieces   []string
	Lines    []string // what the container is good for, and advice
	Buttons  []button // the first container, then the others
	Others   []button
	Scanned  string   // why the scanned container does not suit
	Not      []string // why other open containers do not suit
	Outbox   string
}

// lookForm asks whether a wetted surface still looks wet.
type lookForm struct {
	Wet     Wet
	Lines   []Wet
	Wipe    string // when to wipe again: advice
	Again   string // the question once more, when nobody looked for long
	Buttons []button
	Singles []button
	Rewet   string // address of the form for another container
	Outbox  string
}

// offer is one open container with what the rule says of it for a group of pieces.
type offer struct {
	suit    reprocess.Suit
	problem *reprocess.Problem
	name    string
}

// offers judges every open container of disinfectant for a group: the one that was scanned
// first, then the one in use on these pieces, then the first to expire.
func (x *view) offers(g group) []offer {
	var all []offer
	for id, c := range x.w.Containers {
		lot := x.w.Lots[c.Lot]
		if lot == nil || lot.Kind != reprocess.LotDisinfectant ||
			(c.Closed != 0 && id != x.container) {
			continue
		}
		all = append(all, x.judge(g, c))
	}
	used := x.inUse(g)
	rank := func(o offer) string {
		first := "2"
		switch {
		case o.suit.Container.ID == x.container:
			first = "0"
		case slices.Contains(used, o.suit.Container.ID):
			first = "1"
		}
		return first + string(o.suit.Until) + o.suit.Container.ID
	}
	slices.SortFunc(all, func(a, b offer) int { return strings.Compare(rank(a), rank(b)) })
	return all
}

func (x *view) judge(g group, c *reprocess.Container) offer {
	o := offer{name: tubWords(c), suit: reprocess.Suit{Container: c}}
	for i, t := range g.tracks {
		s, p := reprocess.Suits(x.w, c.ID, t.Piece, t.Proc, x.k.Flags, x.v.Now.Today())
		if p != nil {
			o.problem = p
			return o
		}
		if i == 0 || s.NeededS > o.suit.NeededS {
			o.suit = s
		}
	}
	return o
}

// inUse lists the containers of the newest wet time of a group.
func (x *view) inUse(g group) []string {
	var ids []string
	for _, t := range g.tracks {
		if n := len(t.Progress.Wet.Intervals); n > 0 {
			ids = append(ids, t.Progress.Wet.Intervals[n-1].Containers...)
		}
	}
	return ids
}

func tubWords(c *reprocess.Container) string {
	if c.Number != "" {
		return "container " + c.Number
	}
	return "container " + c.ID
}

// mostOffers is how many containers stand on the page at once; the rest are behind a line.
const mostOffers = 2

// wetForm offers the containers that suit; why the others do not is said before the wipe.
func (x *view) wetForm(g group) *wetForm {
	f := &wetForm{Question: "Is the whole surface wet?", Pieces: g.ids(),
		Outbox: "kit " + x.k.Number + ", wet now"}
	if x.wetAgain(g) {
		f.Question = "Wet now, by which container?"
	}
	who := map[bool]string{true: "Both are", false: g.who() + " is"}[len(g.tracks) > 1]
	offered := x.offers(g)
	for _, o := range offered {
		if o.problem != nil {
			if o.suit.Container.ID == x.container {
				f.Scanned = capital(o.name) + " does not suit: " + reprocess.GateWords(o.problem)
			}
			f.Not = append(f.Not, capital(o.name)+": "+reprocess.GateWords(o.problem))
			continue
		}
		b := button{Value: o.suit.Container.ID, First: len(f.Buttons) == 0,
			Words: who + " wet now, by " + o.name}
		if b.First {
			f.Lines = slices.Concat(tooShort(g), adviceOf(o), expiresFirst(o, offered))
		} else {
			b.Words += ": " + o.suit.SuitWords()
		}
		if len(f.Buttons) < mostOffers {
			f.Buttons = append(f.Buttons, b)
		} else {
			f.Others = append(f.Others, b)
		}
	}
	if len(f.Buttons) == 0 {
		f.Question = "No open container suits."
		f.Lines = []string{"Open another one under Supplies, or scan one that is open."}
	}
	return f
}

// tooShort says with both figures why a surface is to be wetted again; nothing before the
// first time.
func tooShort(g group) []string {
	for _, t := range g.tracks {
		wet := t.Progress.Wet
		if wet.PaperOnly() {
			return []string{"Its contact time is from paper alone, and that does not count here. " +
				"Disinfect it again."}
		}
		if best, ok := wet.Best(); ok && !wet.Open && !wet.Conforms() {
			return []string{fmt.Sprintf("Too short: it was seen wet for %d s of %d s. Wet it again and "+
				"keep it wet for the whole time.", best.MS/1000, best.NeededS)}
		}
	}
	return nil
}

// expiresFirst names the container to be used up first, where the one on top, because it was
// scanned or is in use, is usable longer.
func expiresFirst(shown offer, offered []offer) []string {
	var suits []reprocess.Suit
	for _, o := range offered {
		if o.problem == nil && o.suit.Container.Closed == 0 {
			suits = append(suits, o.suit)
		}
	}
	first, ok := reprocess.FirstToExpire(suits)
	if !ok || first.Until >= shown.suit.Until {
		return nil
	}
	return []string{capital(tubWords(first.Container)) + " suits as well and expires first: " +
		"usable until " + reprocess.Day(first.Until) + "."}
}

// adviceOf says what a container is good for, how long one wipe of it may hold and how many
// pieces to wipe at a time.
func adviceOf(o offer) []string {
	lines := []string{capital(o.name) + ". " + o.suit.SuitWords(), o.suit.CoverWords()}
	if !o.suit.Product.HasAlcohol() {
		return append(lines, "No alcohol in it: judged by its claims. Up to six pieces at a time.")
	}
	a, ok := o.suit.Product.OneWipe(o.suit.NeededS)
	if !ok {
		return append(lines, "Alcohol dries fast: two pieces at a time.")
	}
	words := map[strength.Outlook]string{strength.Likely: "is likely to hold",
		strength.Doubtful: "may not hold", strength.Unlikely: "hardly holds"}[a.Outlook]
	return append(lines, fmt.Sprintf("One wipe %s %d s (%s): about %d s, could be %d or %d s. "+
		"An estimate, not validated. Two pieces at a time.", words, o.suit.NeededS, a.Outlook,
		a.Seconds, a.Low, a.High))
}

// lookForm shows the wet rows of the pieces that are being watched.
func (x *view) lookForm(g group) *lookForm {
	f := &lookForm{Outbox: "kit " + x.k.Number + ", a look at the wet surface",
		Rewet: kitURL(x.k.ID, "piece", x.piece, "wet", "1")}
	ids, both := strings.Join(g.ids(), ","), "it still looks wet"
	if len(g.tracks) > 1 {
		both = "both still look wet"
	}
	f.Wipe, f.Again = x.wipeAgain(g, x.v.Now), x.longUnseen(g)
	yes := button{string(reprocess.RecLooksWet) + " " + ids, "Yes, " + both, true}
	if f.Again != "" {
		yes.Words = "Yes, it stayed wet all that time"
	}
	f.Buttons = []button{yes, {string(reprocess.RecSeenDry) + " " + ids, "Seen dry", false},
		{string(reprocess.RecNotWatched) + " " + ids, "Did not watch", false}}
	for i, w := range x.wets(g) {
		if i == 0 {
			f.Wet = w
		} else {
			f.Lines = append(f.Lines, w)
		}
	}
	if len(g.tracks) > 1 {
		f.Singles = singles(g)
	}
	return f
}

func singles(g group) []button {
	var all []button
	for _, t := range g.tracks {
		kind := "Only the " + string(t.Piece.Kind)
		all = append(all,
			button{string(reprocess.RecLooksWet) + " " + t.Piece.ID, kind + " still looks wet", false},
			button{string(reprocess.RecSeenDry) + " " + t.Piece.ID, kind + " is dry", false})
	}
	return all
}

// wets draws the wet rows, once for pieces that were wetted by the same tap.
func (x *view) wets(g group) []Wet {
	first := g.tracks[0]
	same := !slices.ContainsFunc(g.tracks, func(t reprocess.Track) bool {
		return !sameWet(first.Progress.Wet, t.Progress.Wet)
	})
	var all []Wet
	for _, t := range g.tracks {
		name := x.k.Number + " " + string(t.Piece.Kind)
		if same && len(g.tracks) > 1 {
			name = x.k.Number + ", both"
		}
		w := t.Progress.Wet
		all = append(all, WetFrom(name, w, x.v.Now, x.wetFoot(w)))
		if same {
			break
		}
	}
	return all
}

func sameWet(a, b reprocess.Wet) bool {
	if len(a.Intervals) != len(b.Intervals) || a.NeededS != b.NeededS {
		return false
	}
	for i := range a.Intervals {
		if a.Intervals[i].From != b.Intervals[i].From || a.Intervals[i].MS != b.Intervals[i].MS ||
			a.Intervals[i].DryMS != b.Intervals[i].DryMS {
			return false
		}
	}
	return true
}

// wetFoot is the last line of the timer: start by the server, needed seconds, containers.
func (x *view) wetFoot(w reprocess.Wet) string {
	var names []string
	if n := len(w.Intervals); n > 0 {
		for _, id := range w.Intervals[n-1].Containers {
			if c := x.w.Containers[id]; c != nil {
				names = append(names, tubWords(c))
			}
		}
	}
	start := reprocess.Clock(w.Start.At, x.v.Now.Zone)
	return fmt.Sprintf("Wet since %s by the server, %d s needed, %s", start[len(start)-5:], w.NeededS,
		strings.Join(names, " and "))
}

// longUnseen is the question once more, when a look was refused for want of looks.
func (x *view) longUnseen(g group) string {
	if !x.again {
		return ""
	}
	most := 0
	for _, t := range g.tracks {
		most = max(most, reprocess.Unseen(t.Progress.Wet, reprocess.Mark{At: x.v.Now.UTC,
			Boot: x.v.Now.Boot, Mono: x.v.Now.Mono}))
	}
	return fmt.Sprintf("Nobody looked for %s. Did it really look wet all that time? "+
		"It is kept with that remark.", spoken(most))
}

// wetNow records that the surface is wet.
func wetNow(v *Visit) error {
	x, err := v.view(v.Param("id"))
	if err != nil {
		return err
	}
	x.container = v.Field("container")
	pieces := v.Fields("piece")
	e, err := v.Do(reprocess.WetNow{Kit: x.k.ID, Pieces: pieces, Container: x.container})
	if err != nil {
		x.rewet = true
		return v.Refuse(err, x.page())
	}
	return v.Went(x.after(pieces), saidOf(e))
}

// look records a look at the wet surface. Its value is what was seen and on which pieces.
func look(v *Visit) error {
	x, err := v.view(v.Param("id"))
	if err != nil {
		return err
	}
	saw, ids, _ := strings.Cut(v.Field("look"), " ")
	cmd := reprocess.Look{Kit: x.k.ID, Pieces: strings.Split(ids, ","),
		Saw: reprocess.RecordKind(saw), Confirmed: v.Field("confirmed") != ""}
	if len(cmd.Pieces) == 1 {
		x.piece = cmd.Pieces[0]
	}
	e, err := v.Do(cmd)
	if err != nil {
		x.again = reprocess.AsProblem(err).Rule == "look_again"
		return v.Refuse(err, x.page())
	}
	return v.Went(x.after(cmd.Pieces), saidOf(e))
}
