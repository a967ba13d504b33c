package reprocess

import (
	"strconv"

	"handback/reprocess/wear"
)

// volts reads the open voltage of the new cell and judges it by the chemistry of the
// designation that the model states; without one it is kept as it was read.
func (c *Case) volts(piece *Piece, a *Answer) *Problem {
	v, err := wear.ParseVolts(a.Value)
	if err != nil {
		return invalid("volts", "Type it like 1.58V, or leave it empty.",
			"The voltage of the cell cannot be read: %s.", err)
	}
	a.Value = v.String()
	m := c.W.Models[piece.Model]
	if m == nil || m.Cell == "" {
		return nil
	}
	cell, err := wear.CellOf(m.Cell)
	if err != nil {
		return invalid("cell_kind", "Ask a supervisor to correct the model.", "%s.", err)
	}
	verdict, _, err := wear.Accept(cell.Chemistry, v)
	switch {
	case err != nil || verdict == wear.Remark:
		a.Effect = EffectNote // no limits are known for it, or between the two
	case verdict == wear.Refuse:
		a.Effect = EffectAgain
	}
	return nil
}

// wearFigures checks what a model states about cells and electrodes.
func (m *Model) wearFigures() *Problem {
	out := func(what string) *Problem {
		return invalid("number", "Correct it and send again.", "%s is out of range.", what)
	}
	if m.Cell != "" {
		if _, err := wear.CellOf(m.Cell); err != nil {
			return invalid("cell_kind", "Type it as printed on the cell, such as LR03.", "%s.", err)
		}
	}
	switch {
	case m.CellCount < 0 || m.CellCount > 12:
		return out("The number of cells")
	case m.CapacityMAh < 0 || m.CapacityMAh > 100_000:
		return out("The capacity")
	case m.CurrentUA < 0 || m.CurrentUA > 1_000_000:
		return out("The mean current")
	case m.RunHours < 0 || m.RunHours > 10_000:
		return out("The run time")
	case m.PerSet < 0 || m.PerSet > 20:
		return out("The number of electrodes in a set")
	case m.UsualDays < 0 || m.UsualDays > longestLoan:
		return out("The usual number of days")
	}
	return m.interval()
}

func (m *Model) interval() *Problem {
	if m.ElectrodeInterval == "" {
		return nil
	}
	d, err := wear.ParseDays(m.ElectrodeInterval)
	if err != nil || d > 60 {
		return invalid("days", "Type days such as 3 or 3.5; of a range the shorter end.",
			"The change interval of the electrodes cannot be read.")
	}
	m.ElectrodeInterval = strconv.FormatFloat(float64(d), 'f', -1, 64)
	return nil
}
