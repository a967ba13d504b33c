package web

import (
	"net/url"
	"slices"
	"strings"

	"handback/reprocess"
	"handback/reprocess/spectrum"
)

// view is one kit as its pages see it, at one moment and for one person.
type view struct {
	v         *Visit
	w         *reprocess.World
	k         *reprocess.Kit
	tracks    []reprocess.Track
	piece     string // whose label was scanned, or whose track was chosen
	code      string // a label of the kit that was read back
	container string // a container that was scanned for this kit
	full      bool   // every answer is asked, not only the usual ones
	rewet     bool   // wet now, although a wet time is running
	typed     map[string]string
	again     bool                 // a look was refused and is asked again
	findings  []*reprocess.Finding // open ones about it
	why       string               // it is stopped or called back; "" when it is neither
}

// view gathers the facts of a kit; what the address says goes along.
func (v *Visit) view(id string) (*view, error) {
	w, err := v.Store().KitWorld(v.Context(), id)
	if err != nil {
		return nil, err
	}
	x := &view{v: v, w: w, k: w.Kits[id], piece: v.Query("piece"), code: v.Query("code"),
		container: v.Query("container"), full: v.Query("full") != "", rewet: v.Query("wet") != "",
		typed: map[string]string{}}
	for _, id := range x.k.Pieces {
		if p := w.Pieces[id]; p != nil {
			x.tracks = append(x.tracks, w.Track(p, v.Now))
		}
	}
	if x.why, err = x.whyStopped(); err != nil {
		return nil, err
	}
	x.findings, err = v.openFindings(x.k.ID)
	return x, err
}

// may tells whether the person may do an act at all, by the table of rights.
func (v *Visit) may(act reprocess.Act) bool {
	right, ok := reprocess.FindRight(act)
	return ok && v.Person != nil && v.Person.Has(right.Roles...)
}

// name is a person's printed name; who is unknown stays an id.
func nameIn(w *reprocess.World, id string) string {
	if p := w.People[id]; p != nil {
		return p.Name
	}
	return id
}

// kitURL is the address of a kit's page with values; pairs of name and value.
func kitURL(id string, pairs ...string) string {
	q := url.Values{}
	for i := 0; i+1 < len(pairs); i += 2 {
		if pairs[i+1] != "" {
			q.Set(pairs[i], pairs[i+1])
		}
	}
	address := "/kit/" + url.PathEscape(id)
	if len(q) > 0 {
		address += "?" + q.Encode()
	}
	return address
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// kitPage is the page of a kit: how it stands, and the next act as one question. At most one
// of Ask, Wet, Look and Go is set.
type kitPage struct {
	Base
	ID, Number, Place string
	State             State
	Told              []string // what to know before the act
	Tracks            []trackLine
	Waits             []waitLine
	Ask               *askForm
	Wet               *wetForm
	Look              *lookForm
	Go                []link
	Papers            []paperLine // that the step is done by
	Nothing           string      // why nothing is asked here
	Caution           string
	Undo              *undoForm
	More              []link
}

// link is one line that leads on.
type link struct{ To, Words, Note string }

// showKit is the page of a kit.
func showKit(v *Visit) error {
	x, err := v.view(v.Param("id"))
	if err != nil {
		return err
	}
	return v.Show(x.page())
}

// page draws the kit as it stands now.
func (x *view) page() *kitPage {
	state := x.state()
	p := &kitPage{Base: Titled(state.Words + ": kit " + x.k.Number), ID: x.k.ID,
		Number: x.k.Number, Place: x.place(), State: state, Waits: x.waitLines(),
		Undo: x.undo(), More: x.more()}
	p.OwnHeading = true
	groups := x.groups()
	p.Tracks = x.trackLines(groups)
	if len(groups) > 0 && x.v.may(reprocess.ActStep) {
		x.ask(p, groups[0])
	} else {
		x.lead(p, len(groups) > 0)
	}
	return p
}

// ask puts the next act of a group on the page.
func (x *view) ask(p *kitPage, g group) {
	p.Caution, p.Papers = x.cautionOf(g), x.papers(g)
	p.Told = append(p.Told, x.instructionsTold(g)...)
	p.Told = append(p.Told, x.gapWords(g)...)
	p.Told = append(p.Told, x.returnWords(g)...)
	p.Told = append(p.Told, x.pairTold(g)...)
	if g.step.ID == reprocess.StepReceipt {
		p.Told = append(p.Told, checkWords(x.w, x.k, x.v.Now)...)
	}
	if g.step.ID == reprocess.StepReceipt || g.step.ID == reprocess.StepFunction {
		p.Told = append(p.Told, x.campaignTold(g)...)
	}
	switch {
	case g.step.ID == reprocess.StepRelease:
		x.lead(p, false)
	case x.wetAgain(g), g.step.ID == reprocess.StepDisinfection && !g.running:
		p.Wet = x.wetForm(g)
	case g.running:
		p.Caution = "" // it stood where the surface was wetted
		p.Look = x.lookForm(g)
	case x.pairFirst(g):
		p.Told = append(p.Told, x.bagWords()...)
		p.Go = x.pairLinks()
	case x.exports(g) && !x.full && hasRow(testRow):
		p.Go = []link{
			{To: x.row(testRow), Words: "Upload the test recording"},
			{To: kitURL(x.k.ID, "piece", x.piece, "full", "1"),
				Words: "It did not arrive, or has no signal"}}
	default:
		if !x.full {
			p.Ask = x.quick(g)
		}
		if p.Ask == nil {
			p.Ask = x.whole(g)
		}
	}
}

// testRow is the page where a test recording is uploaded and judged.
const testRow = "/kit/:id/test"

// pictureRow is the page where a picture of a damage is kept.
const pictureRow = "/kit/:id/picture"

// hasRow tells whether the site map has a page.
func hasRow(path string) bool {
	return slices.ContainsFunc(routes(), func(r Route) bool {
		return r.Method == get && r.Path == path
	})
}

// wetAgain tells whether somebody asked to wet a piece that is wet or was wetted already.
func (x *view) wetAgain(g group) bool {
	asked := x.rewet || g.running && x.container != ""
	return asked && !slices.ContainsFunc(g.tracks, func(t reprocess.Track) bool {
		return !wetted(t)
	})
}

// wetted tells whether a piece has been wetted in its open cycle.
func wetted(t reprocess.Track) bool { return t.Next != "" && len(t.Progress.Wet.Intervals) > 0 }

// gapWords tells of the longest gap before and after it has passed.
func (x *view) gapWords(g group) []string {
	for _, t := range g.tracks {
		switch {
		case t.LateMin > 0:
			return []string{"The last step was " + minutesWords(t.LateMin) + " ago; this procedure allows " +
				minutesWords(t.Proc.MaxGapMin) + ". It has to be disinfected again."}
		case t.LeftMin > 0 && t.LeftMin <= 30 && !g.running:
			return []string{"Go on within " + minutesWords(t.LeftMin) +
				", or it has to be disinfected again."}
		}
	}
	return nil
}

// returnWords says, until the surface is wetted, what was told at the return: precautions, and
// what the first look should look for.
func (x *view) returnWords(g group) []string {
	var lines []string
	early := g.step.ID == reprocess.StepReceipt || g.step.ID == reprocess.StepCleaning
	known := slices.DeleteFunc(slices.Clone(x.k.Flags), func(f string) bool {
		return f == string(spectrum.None)
	})
	if len(known) > 0 && (early || g.step.ID == reprocess.StepDisinfection) {
		lines = append(lines, "Precautions told: "+flagWords(known)+".")
		for _, row := range spectrum.Rows() {
			if slices.Contains(known, string(row.Flag)) && row.Remark != "" {
				lines = append(lines, row.Remark)
			}
		}
	}
	l := x.w.Loans[x.k.Loan]
	if g.step.ID != reprocess.StepReceipt || l == nil || l.Return == nil {
		return lines
	}
	for _, told := range [][2]string{{l.Return.Skin, "skin trouble"}, {l.Return.Fault, "a fault"},
		{l.Return.Missing, "something missing"}} {
		if told[0] == "yes" {
			lines = append(lines, "Told at the return: "+told[1]+".")
		}
	}
	return lines
}

// lead offers the act when no step is asked: hand out, take back, release, decide.
func (x *view) lead(p *kitPage, others bool) {
	p.Caution = ""
	state, rule := reprocess.KitState(x.k, x.w.Pieces), reprocess.CanHandOut(x.w, x.k, x.v.Now).Rule
	switch {
	case p.State.IsReleased():
		x.offer(p, reprocess.ActIssue, deskURL(x.k.ID, "out"), "Hand out")
	case rule == "lapsed":
		x.offer(p, reprocess.ActRecheck, "/kit/"+x.k.ID+"/re-check", "Re-check the pack")
	case rule == "lot_stopped" && state == reprocess.Released:
		x.offer(p, reprocess.ActBreakRelease, "/kit/"+x.k.ID+"/broken", "Open the pack, to do it again")
	case state == reprocess.Issued || state == reprocess.Recalled || state == reprocess.Missing:
		x.offer(p, reprocess.ActReturn, deskURL(x.k.ID, "back"), "Take back")
	case state == reprocess.Embargoed:
		x.offer(p, reprocess.ActEmbargoLift, "/kit/"+x.k.ID+"/stop-end", "End the stop")
	case state == reprocess.AwaitingRelease:
		p.Caution = cautionAt(reprocess.Step{Caution: "released"})
		x.offer(p, reprocess.ActRelease, "/kit/"+x.k.ID+"/release", "Look at it and release")
	case x.heldAt(reprocess.GradeTechnician) && x.v.may(reprocess.ActTechnicianDone):
		x.offer(p, reprocess.ActTechnicianDone, "/kit/"+x.k.ID+"/technician", "The technician is done")
	case x.heldAt(reprocess.GradeHold, reprocess.GradeInfection):
		x.offer(p, reprocess.ActDecision, "/kit/"+x.k.ID+"/decision", "Decide on the hold")
	}
	if len(p.Go) == 0 {
		p.Nothing = "There is nothing for you to do here now."
		if others {
			p.Nothing = "The bench goes on with it."
		}
	}
}

func (x *view) offer(p *kitPage, act reprocess.Act, to, words string) {
	if x.v.may(act) {
		p.Go = append(p.Go, link{To: to, Words: words})
	}
}

func (x *view) heldAt(grades ...reprocess.Grade) bool {
	return slices.ContainsFunc(x.tracks, func(t reprocess.Track) bool {
		return t.Piece.Held(grades...) != nil
	})
}

// state is the state block, computed when asked.
func (x *view) state() State {
	a := reprocess.CanHandOut(x.w, x.k, x.v.Now)
	if a.Released {
		line := "since " + x.clock(a.Since)
		if a.Until != 0 {
			line += ", until " + x.clock(a.Until)
		}
		if x.k.Release.TakenOver {
			return ReleasedState(line, "taken over from paper")
		}
		return ReleasedState(line, "by "+x.k.Release.Name)
	}
	ours := a.Rule == reprocess.Returned.Code() || a.Rule == reprocess.Registered.Code() ||
		a.Rule == reprocess.InReprocessing.Code() || a.Rule == reprocess.AwaitingRelease.Code()
	switch {
	case a.Rule == reprocess.InReprocessing.Code() && x.v.may(reprocess.ActStep):
		return HeldState("Still being reprocessed.") // the question below says with what
	case ours && x.v.may(reprocess.ActStep):
		return HeldState(a.Reason)
	}
	return x.heldState(a)
}

func (x *view) clock(i reprocess.Instant) string { return clockWords(i, x.v.Now) }

// clockWords is a moment as people say it: the day only when it is not today.
func clockWords(i reprocess.Instant, now reprocess.Now) string {
	full := reprocess.Clock(i, now.Zone)
	if i != 0 && reprocess.DateIn(i, now.Zone) == now.Today() {
		return full[len(full)-5:]
	}
	return full
}

func (x *view) place() string {
	if x.k.Place == "" || placeIsOld(x.k) {
		return "Nobody said where it lies now."
	}
	words := capital(x.k.Place)
	if x.k.PlaceAt != 0 {
		words += " since " + x.clock(x.k.PlaceAt)
	}
	if x.k.PlaceBy != "" {
		words += ", by " + nameIn(x.w, x.k.PlaceBy)
	}
	return words
}
