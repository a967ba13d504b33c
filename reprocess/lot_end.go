package reprocess

// EndLot says that a lot is used up: a box of cells or electrodes, or a lot of disinfectant of
// which nothing is left to open. It is offered no more; what was done with it stays as it was.
type EndLot struct {
	Lot string `json:"lot"`
}

// ResumeLot takes "used up" back: there is some of it after all.
type ResumeLot struct {
	Lot string `json:"lot"`
}

// ReopenContainer takes back that a container was closed: it was tapped by mistake. Whether it
// may be used is asked again from its dates, its lot and its strength.
type ReopenContainer struct {
	Container string `json:"container"`
}

type (
	// LotEnded says that nothing of a lot is left; LotResumed that there is.
	LotEnded struct {
		Lot string `json:"lot"`
	}
	// LotResumed ends LotEnded.
	LotResumed struct {
		Lot string `json:"lot"`
	}
	// ContainerReopened says that a container was closed by mistake.
	ContainerReopened struct {
		Container string `json:"container"`
	}
)

// EventName is the stable text "lot_ended".
func (LotEnded) EventName() string { return "lot_ended" }

// EventName is the stable text "lot_resumed".
func (LotResumed) EventName() string { return "lot_resumed" }

// EventName is the stable text "container_reopened".
func (ContainerReopened) EventName() string { return "container_reopened" }

// The acts on what is used up.
const (
	ActLotEnd        Act = "lot_end"
	ActLotResume     Act = "lot_resume"
	ActContainerBack Act = "container_reopen"
)

// Act is "lot_end".
func (EndLot) Act() Act { return ActLotEnd }

// Act is "lot_resume".
func (ResumeLot) Act() Act { return ActLotResume }

// Act is "container_reopen".
func (ReopenContainer) Act() Act { return ActContainerBack }

// Needs the lot.
func (x EndLot) Needs() Needs { return Needs{Lots: []string{x.Lot}} }

// Needs the lot.
func (x ResumeLot) Needs() Needs { return Needs{Lots: []string{x.Lot}} }

// Needs the container.
func (x ReopenContainer) Needs() Needs { return Needs{Containers: []string{x.Container}} }

func (x EndLot) decide(c *Case) *Problem {
	l := c.W.Lots[x.Lot]
	switch {
	case l == nil:
		return missing("lot")
	case l.Ended != 0:
		return conflict("already_done", "Nothing to do.", "%s is called used up already.",
			c.W.LotWords(l))
	}
	c.emit(LotEnded(x))
	return nil
}

func (x ResumeLot) decide(c *Case) *Problem {
	l := c.W.Lots[x.Lot]
	switch {
	case l == nil:
		return missing("lot")
	case l.Ended == 0:
		return conflict("already_done", "Nothing to do.", "%s is not called used up.",
			c.W.LotWords(l))
	}
	c.emit(LotResumed(x))
	return nil
}

func (x ReopenContainer) decide(c *Case) *Problem {
	con := c.W.Containers[x.Container]
	switch {
	case con == nil:
		return missing("container")
	case con.Closed == 0:
		return conflict("already_done", "Nothing to do.", "This container is open.")
	}
	c.emit(ContainerReopened(x))
	return nil
}

// applyEnd folds what is used up.
func (w *World) applyEnd(e *Entry, event Event) bool {
	switch v := event.(type) {
	case LotEnded:
		change(w, w.Lots, TableLot, v.Lot, func(l *Lot) { l.Ended = e.At })
	case LotResumed:
		change(w, w.Lots, TableLot, v.Lot, func(l *Lot) { l.Ended = 0 })
	case ContainerReopened:
		change(w, w.Containers, TableContainer, v.Container, func(c *Container) {
			c.Closed, c.Why = 0, ""
		})
	default:
		return w.applyBatch(e, event)
	}
	return true
}

// notEnded refuses to take from a lot that was called used up.
func (l *Lot) notEnded() *Problem {
	if l.Ended == 0 {
		return nil
	}
	return refuse("used_up", "Take another one; if there is some left, say so on its page.",
		"This was called used up on %s.", Day(DateIn(l.Ended, nil)))
}
