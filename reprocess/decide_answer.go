package reprocess

import "strconv"

// judge checks the answers against what this procedure asks, and gives each its effect.
func (r RecordStep) judge(c *Case, k *Kit, piece *Piece, proc *Procedure) ([]Answer, *Problem) {
	var out []Answer
	for _, ask := range WantedAsks(c.W, k, piece, proc, r.Step) {
		value := (Record{Answers: r.Answers}).Answered(ask.ID)
		if value == "" && ask.Optional {
			continue
		}
		a, p := c.answer(k, piece, ask, value)
		if p != nil {
			return nil, p
		}
		out = append(out, a)
	}
	return out, r.noStrangers()
}

// noStrangers refuses answers to questions that do not belong to the step.
func (r RecordStep) noStrangers() *Problem {
	for _, a := range r.Answers {
		if ask, ok := FindAsk(a.Ask); !ok || ask.Step != r.Step {
			return invalid("ask", "Open the kit again.", "%q is not asked at this step.", a.Ask)
		}
	}
	return nil
}

// WantedAsks lists what a step asks of a piece here: what the procedure wants, the look at the
// skin's trace only when the wearer told of skin trouble, a version only for a campaign.
func WantedAsks(w *World, k *Kit, piece *Piece, proc *Procedure, step StepID) []Ask {
	row := proc.Row(step)
	if row == nil {
		return nil
	}
	var out []Ask
	for _, a := range Asks(step, piece.Kind) {
		if wanted, by := w.wantedNow(k, piece, a); wanted || !by && contains(row.Asks, a.ID) {
			out = append(out, a)
		}
	}
	return out
}

// wantedNow tells of a question that depends on more than the procedure whether it is asked;
// by is false for every other question.
func (w *World) wantedNow(k *Kit, piece *Piece, a Ask) (wanted, by bool) {
	switch a.When {
	case "skin":
		return skinTold(k), true
	case whenZincAir:
		return w.Models[piece.Model].zincAir(), true
	case whenCampaign:
		_, wanted = w.VersionWanted(piece, a.ID)
		return wanted, true
	}
	return false, false
}

func skinTold(k *Kit) bool { return k.Return != nil && k.Return.Skin == "yes" }

// answer checks one value and gives it its effect.
func (c *Case) answer(k *Kit, piece *Piece, ask Ask, value string) (Answer, *Problem) {
	a := Answer{Ask: ask.ID, Value: value}
	if value == "" {
		return a, invalid("unanswered", "Choose an answer and send again.",
			"%q is not answered.", ask.Words)
	}
	switch ask.Kind {
	case AskChoice:
		ch, ok := ask.Choice(value)
		if !ok {
			return a, invalid("answer", "Choose one of the answers.",
				"%q is no answer to %q.", value, ask.Words)
		}
		a.Effect = ch.Effect
		return a, nil
	case AskText:
		if ask.ByCampaign() {
			return c.versionRead(piece, ask, value)
		}
		text, p := clean(ask.Words, value, 120)
		a.Value = text
		return a, p
	case AskCells:
		return a, c.cells(piece, value)
	case AskCode:
		return a, c.scanBack(k, value)
	case AskVolts:
		p := c.volts(piece, &a)
		return a, p
	case AskDay:
		return a, c.opened(value)
	}
	return a, percent(ask, value)
}

func percent(ask Ask, value string) *Problem {
	n, err := strconv.Atoi(value)
	if err != nil || n < 0 || n > 100 || strconv.Itoa(n) != value {
		return invalid("number", "Type a whole number from 0 to 100.",
			"%q is no answer to %q.", value, ask.Words)
	}
	return nil
}

// cells checks the box of cells; see CellsFit.
func (c *Case) cells(piece *Piece, lot string) *Problem {
	if l := c.W.Lots[lot]; c.past && l != nil && l.Kind == LotCells {
		return c.W.Models[piece.Model].cellKind(l)
	}
	return CellsFit(c.W, piece, lot, c.Now.Today())
}

// scanBack checks that the label read back belongs to this kit and is still in force.
func (c *Case) scanBack(k *Kit, code string) *Problem {
	l := c.W.Labels[code]
	switch {
	case l == nil:
		return refuse("label_unknown", "Scan the recorder's own label.",
			"This label is not one of ours.")
	case l.Withdrawn != 0 && !(c.past && l.Withdrawn > c.Now.UTC):
		return refuse("label_withdrawn", "Print a new label first.", "This label was withdrawn.")
	case l.Kind != CodePiece || !contains(k.Pieces, l.Target):
		return refuse("other_label", "Put it where it belongs and scan the right one.",
			"This label belongs to something else than kit %s.", k.Number)
	}
	return nil
}
