package reprocess

// WetNow says that the whole surface of these pieces is wet now, by this container.
type WetNow struct {
	Kit       string   `json:"kit"`
	Pieces    []string `json:"pieces"`
	Container string   `json:"container"`
}

// Look is a look at a wetted surface: RecLooksWet ("still wet", also "stayed wet: yes"),
// RecSeenDry ("dry", "stayed wet: no") or RecNotWatched ("did not watch").
type Look struct {
	Kit       string     `json:"kit"`
	Pieces    []string   `json:"pieces"`
	Saw       RecordKind `json:"saw"`
	Confirmed bool       `json:"confirmed,omitempty"` // asked again, and still yes
}

// Act is "wet" for both.
func (WetNow) Act() Act { return ActWet }

// Act is "wet" for both.
func (Look) Act() Act { return ActWet }

// Needs the kit and the container.
func (x WetNow) Needs() Needs {
	return Needs{Kit: x.Kit, Pieces: x.Pieces, Containers: []string{x.Container}}
}

// Needs the kit.
func (x Look) Needs() Needs { return Needs{Kit: x.Kit, Pieces: x.Pieces} }

func (x WetNow) decide(c *Case) *Problem {
	return c.each(x.Kit, x.Pieces, x.one)
}

// wetWork is the work on a piece whose turn it is to be wetted.
func (c *Case) wetWork(k *Kit, piece *Piece) (work, *Problem) {
	w, p := c.work(k, piece)
	if p != nil {
		return w, p
	}
	return w, w.wetTurn()
}

func (x WetNow) one(c *Case, piece *Piece) *Problem {
	k := c.W.Kits[x.Kit]
	w, p := c.wetWork(k, piece)
	if p != nil {
		return p
	}
	suit, p := Suits(c.W, x.Container, piece, w.proc, k.Flags, c.Now.Today())
	if p != nil {
		return p
	}
	c.emit(StepRecorded{Cycle: w.cycle, Piece: piece.ID, Record: Record{Kind: RecWetNow,
		Step: StepDisinfection, Container: suit.Container.ID, Lot: suit.Lot.ID,
		Product: suit.Product.ID, NeededS: suit.NeededS, Learning: w.learning}})
	return nil
}

// wetTurn allows wetting when it is disinfection's turn, and again at any time after it in
// the same cycle (the gap has passed, or somebody touched it).
func (w work) wetTurn() *Problem {
	if w.proc.Row(StepDisinfection) == nil {
		return refuse("not_wanted", "Open the kit again.",
			"Procedure %q does not want a disinfection.", w.proc.Name)
	}
	next := w.progress.Next(w.proc)
	if stepIndex(next) >= stepIndex(StepDisinfection) {
		return nil
	}
	want, _ := FindStep(next)
	return refuse("order", "Do that first.", "%s comes before disinfecting.", want.Words)
}

func (x Look) decide(c *Case) *Problem {
	if x.Saw != RecLooksWet && x.Saw != RecSeenDry && x.Saw != RecNotWatched {
		return invalid("look", "Open the kit again.", "%q is not something one can see.", x.Saw)
	}
	return c.each(x.Kit, x.Pieces, x.one)
}

func (x Look) one(c *Case, piece *Piece) *Problem {
	w, p := c.work(c.W.Kits[x.Kit], piece)
	if p != nil {
		return p
	}
	if !w.progress.Wet.Open {
		return conflict("not_wet", "Wet it and tap \"wet now\".",
			"No wet time is running on this %s.", piece.Kind)
	}
	unseen := Unseen(w.progress.Wet, c.mark())
	if x.Saw == RecLooksWet && unseen > 0 && !x.Confirmed {
		return refuse("look_again", "Say again whether it really stayed wet all that time.",
			"Nobody looked at this %s for %d s.", piece.Kind, unseen)
	}
	if x.Saw != RecLooksWet {
		unseen = 0
	}
	c.emit(StepRecorded{Cycle: w.cycle, Piece: piece.ID, Record: Record{Kind: x.Saw,
		Step: StepDisinfection, NotLookS: unseen, Learning: w.learning}})
	return nil
}

// longLookS is how much longer than needed a claim may run without a look, in s (P10).
const longLookS = 60

// Unseen is for how many seconds nobody looked at a running interval, when it runs more than
// a minute longer than needed and the last look is as far back; otherwise 0.
func Unseen(w Wet, now Mark) int {
	if !w.Open {
		return 0
	}
	all, _ := Elapsed(w.Start, now)
	since, _ := Elapsed(w.LastLook, now)
	if all <= int64(w.NeededS+longLookS)*1000 || since <= longLookS*1000 {
		return 0
	}
	return int(since / 1000)
}
