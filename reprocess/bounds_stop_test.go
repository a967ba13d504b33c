package reprocess

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// The edges of lots, swaps, look-backs and of what a lot touched. Sources: P7 and P12 of the
// practice notes; for the acts of a look-back Rutala and Weber 2007, steps 2 and 6 (from memory).

// It is the printed number that was stopped: of the same product, whatever its case, and not
// under another line.
func TestAStoppedLotComesBackUnderNoOtherLine(t *testing.T) {
	for name, x := range map[string]struct {
		change func(*Lot)
		rule   string
	}{
		"the same":             {func(*Lot) {}, "lot_stopped"},
		"in other letters":     {func(l *Lot) { l.Number = "l6" }, "lot_stopped"},
		"another number":       {func(l *Lot) { l.Number = "L7" }, ""},
		"of another product":   {func(l *Lot) { l.Product = "D99" }, ""},
		"of cells":             {func(l *Lot) { l.Kind, l.Product, l.Name = LotCells, "", "LR03" }, ""},
		"a correction of it":   {func(l *Lot) { l.ID, l.Expiry = "T15", l.Expiry.AddDays(1) }, ""},
		"another corrected so": {func(l *Lot) { l.ID = "T50" }, "lot_stopped"},
	} {
		c := newClinic(t)
		ada := c.actor("ada")
		other := *c.w.Products["D14"]
		other.ID, other.Name = "D99", "Wipe E71"
		c.w.Products["D99"] = &other
		c.w.Lots["T50"] = &Lot{ID: "T50", Kind: LotDisinfectant, Product: "D14", Number: "L9",
			Expiry: "2030-01-31"}
		c.do(ada, StopLot{Lot: "T15", Reason: "cloudy"})
		l := Lot{Kind: LotDisinfectant, Product: "D14", Number: "L6", Expiry: "2030-01-31"}
		x.change(&l)
		_, p := c.try(ada, SetLot{l})
		require.Equal(t, x.rule == "", p == nil, "%s: %v", name, p)
		if p != nil {
			require.Equal(t, x.rule, p.Rule, name)
		}
	}
	c := newClinic(t) // two boxes whose number nobody could read are not one
	ada := c.actor("ada")
	c.do(ada, StopLot{Lot: "T17", Reason: "leaking"})
	c.do(ada, SetLot{Lot{Kind: LotCells, Name: "LR03", Expiry: "2030-01-31"}})
	cells := Lot{Kind: LotCells, Name: "LR03", Number: "7", Expiry: "2030-01-31"}
	first := c.do(ada, SetLot{cells}).Events[0].Event.(LotSet).ID
	c.do(ada, SetLot{cells}) // delivered twice, and nothing was stopped
	c.do(ada, StopLot{Lot: first, Reason: "leaking"})
	c.refused("lot_stopped", ada, SetLot{cells})
	c.do(ada, SetLot{Lot{Kind: LotElectrodes, Name: "pads", Number: "7", Expiry: "2030-01-31"}})
}

// What was prepared here stays what it is: it is not typed over as a delivered lot.
func TestABatchIsNotTypedOver(t *testing.T) {
	c, o := stocked(t)
	con := c.prepared(o)
	l := *c.w.Lots[con.Lot]
	l.Product = "D14"
	c.refused("made_here", c.actor("ada"), SetLot{l})
	l.ID = ""
	l.Product = o.Product
	c.refused("made_here", c.actor("ada"), SetLot{l})
	require.Equal(t, []string{"T1"}, SetLot{Lot{ID: "T1"}}.Needs().Lots)
	require.Empty(t, SetLot{}.Needs().Lots)
	require.Equal(t, []string{"S"}, OpenContainer{Lot: "T1", Code: "S"}.Needs().Labels)
	require.Empty(t, OpenContainer{Lot: "T1"}.Needs().Labels)
}

// A lot is opened on its last day and not after it; today needs no proof, another day does.
func TestTheDaysOfAnOpening(t *testing.T) {
	c := newClinic(t)
	today, boss := c.now.Today(), c.actor("boss")
	for days, ok := range map[int]bool{-1: false, 0: true, 1: true} {
		l := Lot{Kind: LotDisinfectant, Expiry: today.AddDays(days)}
		require.Equal(t, ok, Openable(&l, today) == nil, "%d", days)
	}
	for _, x := range []struct {
		opened Date
		proof  string
		rule   string
	}{{"", "", ""}, {today, "", ""}, {today.AddDays(-1), "", "empty"},
		{today.AddDays(-1), "on the sticker", ""}, {today.AddDays(1), "on the sticker", "date"}} {
		_, p := c.try(boss, OpenContainer{Lot: "T15", Opened: x.opened, Proof: x.proof})
		require.Equal(t, x.rule == "", p == nil, "%+v: %v", x, p)
		if p != nil {
			require.Equal(t, x.rule, p.Rule)
		}
	}
	for why, ok := range map[string]bool{"empty": true, "thrown away": true, "": false,
		"lost": false} {
		c := newClinic(t)
		_, p := c.try(c.actor("ada"), CloseContainer{Container: "B16", Why: why})
		require.Equal(t, ok, p == nil, "%q", why)
	}
}

// A ward's kit is swapped for the ward, whatever wearer is typed.
func TestASwapForAWardNamesNoWearer(t *testing.T) {
	now := Now{UTC: dayOne}
	for _, x := range []struct{ loan, typed, want Loan }{
		{Loan{Ward: "W"}, Loan{Wearer: "w2"}, Loan{Ward: "W"}},
		{Loan{Wearer: "w1"}, Loan{Wearer: "w2"}, Loan{Wearer: "w1"}},
		{Loan{}, Loan{Wearer: "w2"}, Loan{Wearer: "w2"}},
	} {
		s := Swap{Wearer: x.typed.Wearer, Days: 3}
		h, p := s.handOut(&Case{Now: now}, &x.loan)
		require.Nil(t, p)
		require.Equal(t, x.want, Loan{Wearer: h.Wearer, Ward: h.Ward})
	}
	require.Zero(t, DaysLeft(&Loan{}, now))
	require.Zero(t, DaysLeft(&Loan{Due: "2026-11-23"}, now))
	require.Equal(t, 1, DaysLeft(&Loan{Due: "2026-11-25"}, now))
}

// --- acts of a look-back ---

// The numbers of one signature are of what was named: none below nought, and each kit has a piece.
func TestTheNumbersOfALookBacksAct(t *testing.T) {
	for _, x := range []struct {
		call, stop, restart, kits int
		ok                        bool
	}{{1, 0, 0, 1, true}, {0, 1, 0, 1, true}, {0, 0, 1, 1, true}, {1, 1, 1, 3, true},
		{1, 1, 1, 4, false},
		{0, 0, 0, 0, false}, {1, 0, 0, 0, false}, {-1, 3, 0, 1, false}, {3, -1, 0, 1, false},
		{3, 0, -1, 1, false}, {0, 0, 0, 1, false}} {
		c := newClinic(t)
		ina := c.actor("ina")
		_, p := c.try(ina, ActOnLookBack{LookBack: c.frozen(ina), Reason: "weak", CallBack: x.call,
			Stop: x.stop, Restart: x.restart, Kits: x.kits})
		require.Equal(t, x.ok, p == nil, "%+v", x)
	}
}

// Two signatures do not stand for a reason.
func TestTwoSignaturesNeedAReasonToo(t *testing.T) {
	c := newClinic(t)
	ina := c.actor("ina")
	id := c.frozen(ina)
	c.do(ina, SetStopRule{Two: true})
	ina.Second = c.actor("boss").Person
	c.refused("empty", ina, ActOnLookBack{LookBack: id, Stop: 1, Kits: 1})
	c.do(ina, ActOnLookBack{LookBack: id, Reason: "weak", Stop: 1, Kits: 1})
}

// What is not in use is left, and why is said.
func TestWhatALookBackLeaves(t *testing.T) {
	for state, says := range map[State]string{Missing: "is missing", Retired: "is retired",
		OutForRepair: "is out for repair", Embargoed: "is stopped already",
		Registered: "none of it is in use"} {
		c := readyToRelease(t)
		ina := c.actor("ina")
		id, named := c.frozen(ina), c.named(DoStop)
		for _, p := range c.w.Kits["K18"].Pieces {
			c.w.Pieces[p].State = state
		}
		act := ActOnKit{LookBack: id, Kit: "K18", Reason: "weak", Pieces: named}
		p := c.refused("not_as_named", ina, act)
		require.Contains(t, p.Text, says, "%s", state)
	}
}

// A cycle is started again only while it is the piece's own.
func TestACycleIsStartedAgainWhileItRuns(t *testing.T) {
	for cycle, state := range map[string]State{"C1": Returned, "C0": InReprocessing} {
		w := aWorld(InReprocessing)
		w.Pieces["P"] = &Piece{ID: "P", Kit: "K", State: InReprocessing, Cycle: "C1"}
		w.Cycles["C1"] = &Cycle{ID: "C1", Piece: "P"}
		w.restart(&Entry{Seq: 9, At: dayOne}, CycleRestarted{Kit: "K", Piece: "P", Cycle: cycle})
		require.Equal(t, state, w.Pieces["P"].State)
		w.restart(&Entry{}, CycleRestarted{Kit: "K", Piece: "gone", Cycle: cycle}) // nothing to start
	}
}

// --- what a lot touched ---

func TestWhichBatchesALotHas(t *testing.T) {
	w := NewWorld()
	for id, from := range map[string]string{"T1": "", "T2": "T1", "T3": "T9", "T4": ""} {
		w.Lots[id] = &Lot{ID: id, From: from}
	}
	require.Equal(t, []string{"T1", "T2"}, w.WithBatches("T1"))
	require.Equal(t, []string{"T4"}, w.WithBatches("T4"))
	require.Equal(t, []string{""}, w.WithBatches(""), "what came from nowhere is no batch")
}

// A kit whose release stands is reached on its shelf, also when a piece of it is on hold.
func TestAHeldKitOnTheShelfIsReached(t *testing.T) {
	c := readyToRelease(t)
	c.do(c.actor("ada"), ReleaseKit{Kit: "K18"})
	c.w.Pieces["P18-2"].State = Quarantined
	require.Equal(t, []string{"17 shelf"}, c.reach("T15"))
	c.w.Kits["K18"].Release = nil
	require.Empty(t, c.reach("T15"), "it goes through a cycle before anybody gets it")
}

// The cell that was fitted for a ward, and the electrodes it got, are with whoever wears it there.
func TestAWardsCellReachesItsWearer(t *testing.T) {
	c := onWard(t)
	c.loan().Cell, c.loan().Pads = "T90", "T91"
	for _, worn := range []bool{false, true} {
		if worn {
			c.do(c.actor("dan"), WearAtWard{Kit: "K18", Wearer: "w1"})
		}
		for _, lot := range []string{"T90", "T91", "T15"} {
			require.Equal(t, []string{"17 out"}, c.reach(lot), "%s %t", lot, worn)
		}
		require.Empty(t, c.reach("T92"))
	}
	c.do(c.actor("dan"), TakeBack{Kit: "K18"})
	require.Empty(t, c.reach("T90"))
}
