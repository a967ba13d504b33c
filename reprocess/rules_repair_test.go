package reprocess

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func send(declaration string) SendToRepair {
	s := SendToRepair{Kit: "K18", Piece: "P18-1", Declaration: declaration, Reason: "clip broken",
		To: "Workshop, hall 3", Expected: "2026-12-04"}
	if declaration == StillContaminated {
		s.Left = "blood in the socket; double bag"
	}
	return s
}

// wiped brings both pieces through a conforming disinfection.
func (c *clinic) wiped() {
	ada := c.toWet()
	c.wetNow(ada)
	c.wait(61 * time.Second)
	c.look(ada, RecLooksWet)
}

// Three declarations, exclusive; each with what it needs (practice rule P18: "exposed and
// decontaminated" needs a conforming disinfection in this cycle, not a release).
func TestADeclarationGoesWithARepair(t *testing.T) {
	c := newClinic(t)
	boss := c.actor("boss")
	unsigned := boss
	unsigned.Signed = false
	c.refused("signature", unsigned, send(NotExposed))
	c.refused("role", c.actor("dan"), send(NotExposed))
	c.refused("declaration", boss, send(""))
	c.refused("declaration", boss, send(NotExposed+" "+StillContaminated))
	c.refused("declaration", boss, send(Decontaminated))
	c.do(boss, send(NotExposed)) // registered, never in use
	require.Equal(t, OutForRepair, c.w.Pieces["P18-1"].State)

	c = newClinic(t)
	c.do(c.actor("dan"), TakeBack{Kit: "K18"})
	c.refused("declaration", c.actor("boss"), send(NotExposed))
	left := send(StillContaminated)
	left.Left = " "
	c.refused("left", c.actor("boss"), left)
	e := c.do(c.actor("boss"), send(StillContaminated))
	r := c.w.Pieces["P18-1"].Repair
	require.True(t, r.Open())
	require.Equal(t, e.Seq, r.Seq)
	require.Equal(t, "Bea Boss", r.Name)
	require.Equal(t, Date("2026-11-24"), r.Sent, "today, where no day is typed")

	c = newClinic(t)
	c.wiped()
	cycle := c.w.Pieces["P18-1"].Cycle
	c.do(c.actor("boss"), send(Decontaminated))
	require.Equal(t, cycle, c.w.Pieces["P18-1"].Repair.Cycle)
	require.Equal(t, EndBrokenOff, c.w.Cycles[cycle].End)
	c.refused("already_sent", c.actor("boss"), send(StillContaminated))
}

func TestSendingIsBounded(t *testing.T) {
	c := newClinic(t)
	boss := c.actor("boss")
	for rule, spoil := range map[string]func(*SendToRepair){
		"empty": func(s *SendToRepair) { s.To = "" },
		"date":  func(s *SendToRepair) { s.Sent = c.now.Today().AddDays(1) },
		"text":  func(s *SendToRepair) { s.Reason = strings.Repeat("x", 201) },
	} {
		s := send(NotExposed)
		spoil(&s)
		c.refused(rule, boss, s)
	}
	s := send(NotExposed)
	s.Reason = ""
	c.refused("empty", boss, s)
	s = send(NotExposed)
	s.Sent, s.Expected = "2026-11-20", "2026-11-19"
	c.refused("date", boss, s)
	s.Expected = "soon"
	c.refused("date", boss, s)
	s.Expected = "2026-11-20"
	c.do(boss, s)
	require.Equal(t, Date("2026-11-20"), c.w.Pieces["P18-1"].Repair.Sent)
}

// It comes back as returned, with what came of it and what it cost, in hundredths.
func TestBackFromRepair(t *testing.T) {
	c := newClinic(t)
	dan := c.actor("dan")
	back := RepairBack{Kit: "K18", Piece: "P18-1", Outcome: "repaired", Cost: 1250, Currency: "EUR"}
	c.refused("not_at_repair", dan, back)
	c.refused("not_at_repair", dan, ExpectRepair{Kit: "K18", Piece: "P18-1", Expected: "2026-12-01"})
	c.do(c.actor("boss"), send(NotExposed))
	c.refused("date", dan, ExpectRepair{Kit: "K18", Piece: "P18-1"})
	c.refused("date", dan, ExpectRepair{Kit: "K18", Piece: "P18-1", Expected: "2026-11-23"})
	c.do(dan, ExpectRepair{Kit: "K18", Piece: "P18-1", Expected: "2026-12-11", Note: "a part to come"})
	require.Equal(t, Date("2026-12-11"), c.w.Pieces["P18-1"].Repair.Expected)
	for rule, spoil := range map[string]func(*RepairBack){
		"outcome":  func(b *RepairBack) { b.Outcome = "fine" },
		"date":     func(b *RepairBack) { b.On = "2026-11-23" },
		"cost":     func(b *RepairBack) { b.Cost = -1 },
		"currency": func(b *RepairBack) { b.Currency = "" },
		"text":     func(b *RepairBack) { b.Currency = "thalers and groats" },
	} {
		b := back
		spoil(&b)
		c.refused(rule, dan, b)
	}
	late, dear := back, back
	late.On, dear.Cost = c.now.Today().AddDays(1), mostCost+1
	c.refused("date", dan, late)
	c.refused("cost", dan, dear)
	c.do(dan, back)
	r := c.w.Pieces["P18-1"].Repair
	require.False(t, r.Open())
	require.EqualValues(t, 1250, r.Cost)
	require.Equal(t, "EUR", r.Currency)
	require.Equal(t, "Workshop, hall 3", r.To, "what was sent off stays")
	require.Equal(t, Returned, c.w.Pieces["P18-1"].State, "never released")
	c.refused("not_at_repair", dan, back)
}

// What a decision sent off says nothing of where to: that is added, by what was done before it
// went; and what came back over the counter is told afterwards.
func TestARepairThatADecisionBegan(t *testing.T) {
	c := newClinic(t)
	boss := c.actor("boss")
	c.wiped()
	hold := c.do(c.actor("dan"), PutOnHold{Kit: "K18", Piece: "P18-1", Reason: "cracked"}).Seq
	c.do(boss, DecideHold{Kit: "K18", Piece: "P18-1", Hold: hold, To: DecideRepair, Reason: "crack"})
	require.Nil(t, c.w.Pieces["P18-1"].Repair)
	c.do(boss, send(Decontaminated))
	require.Equal(t, "Workshop, hall 3", c.w.Pieces["P18-1"].Repair.To)
	c.do(c.actor("dan"), TakeBack{Kit: "K18", Came: []string{"P18-1"}})
	c.do(c.actor("dan"), RepairBack{Kit: "K18", Piece: "P18-1", Outcome: "no_fault"})
	require.Equal(t, Returned, c.w.Pieces["P18-1"].State)

	c = newClinic(t)
	c.do(c.actor("dan"), TakeBack{Kit: "K18"})
	c.do(c.actor("boss"), Aside{Kit: "K18", Piece: "P18-1", To: OutForRepair, Reason: "x",
		Declaration: StillContaminated})
	c.refused("declaration", c.actor("boss"), send(Decontaminated))
	c.do(c.actor("dan"), RepairBack{Kit: "K18", Piece: "P18-1", Outcome: "not_worth"})
	require.Equal(t, "not_worth", c.w.Pieces["P18-1"].Repair.Outcome)
	require.Empty(t, c.w.Pieces["P18-1"].Repair.To, "nobody said where it was")
}
