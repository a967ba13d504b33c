package reprocess

import (
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func receipt(kit string) RecordStep {
	return RecordStep{Kit: kit, Step: StepReceipt, Answers: answers("condition", "whole",
		"recording", "arrived", "old_cell", "yes")}
}

// What counted when the cycle began is a fact of the cycle; what changed later is a remark,
// and what came after its end is none.
func TestTheInstructionsStandInTheCycle(t *testing.T) {
	c := newClinic(t)
	boss, ada := c.actor("boss"), c.actor("ada")
	id := c.instructions("a", "4", "M10")
	c.do(ada, receipt("K18"))
	rec, phone := c.w.Cycles[c.w.Pieces["P18-1"].Cycle], c.w.Cycles[c.w.Pieces["P18-2"].Cycle]
	require.Equal(t, []InstructionsUsed{{id, 1, "Recorder A, handbook", "4", hashOf("a")}}, rec.Instructions)
	require.Empty(t, phone.Instructions)
	remark := func(cy *Cycle, model string) string {
		return c.w.InstructionRemark(c.w.Cycles[cy.ID], model, c.now.UTC)
	}
	require.Empty(t, remark(rec, "M10"))
	require.Equal(t, "No instructions for use were on file.", remark(phone, "M11"))
	c.wait(time.Minute)
	c.do(boss, RenewDocument{Document: id, DocumentFile: paperFile("b", "5")})
	require.Equal(t, "The instructions changed while it ran: Recorder A, handbook, version 4 when it "+
		"began, then Recorder A, handbook, version 5.", remark(rec, "M10"))
	require.Equal(t, hashOf("a"), c.w.Cycles[rec.ID].Instructions[0].Hash, "the fact stays")
	c.instructions("c", "7", "M11")
	require.Contains(t, remark(phone, "M11"), "while it ran came Recorder A, handbook, version 7")
	c.w.Cycles[phone.ID].Ended = c.now.UTC - 1
	require.Equal(t, "No instructions for use were on file.", remark(phone, "M11"))
	c.do(boss, WithdrawDocument{Document: id, Reason: "recalled by the maker"})
	require.Contains(t, remark(rec, "M10"), "withdrawn while it ran")
	// Without instructions nothing new stands in the entry: old bytes stay as they are.
	b, err := json.Marshal(CycleOpened{Cycle: "C1", Piece: "P1", Kit: "K1", Number: 1})
	require.NoError(t, err)
	require.NotContains(t, string(b), "instructions")
}

// Missing instructions are a remark; a wall only where the clinic demands them, for each model
// and at the beginning of a cycle alone. Tightening is free, loosening signed with a reason.
func TestAClinicMayDemandInstructions(t *testing.T) {
	c := newClinic(t)
	boss, ada := c.actor("boss"), c.actor("ada")
	demand := func(yes bool, reason string) SetDocumentRules {
		return SetDocumentRules{DocumentRules{NeedInstructions: yes, Reason: reason}}
	}
	unsigned := boss
	unsigned.Signed = false
	c.refused("role", ada, demand(true, ""))
	c.refused("already_done", boss, demand(false, ""))
	c.do(unsigned, demand(true, "ignored where nothing loosens"))
	require.Equal(t, DocumentRules{NeedInstructions: true}, *c.w.Settings.Documents)
	c.refused("already_done", boss, demand(true, ""))

	c.instructions("a", "4", "M10")
	p := c.refused("no_instructions", ada, receipt("K18"))
	require.Contains(t, p.Text, "Phone P")
	c.refused("no_instructions", ada, RecordStep{Kit: "K18", Pieces: []string{"P18-2"},
		Step: StepReceipt, Answers: receipt("K18").Answers})
	phone := c.instructions("b", "7", "M11")
	c.do(ada, receipt("K18"))
	c.do(boss, WithdrawDocument{Document: phone, Reason: "wrong"})
	c.wait(30 * time.Second)
	c.do(ada, RecordStep{Kit: "K18", Step: StepCleaning, Answers: answers("clean", "yes",
		"parts_clean", "yes")}) // a cycle that has begun goes on

	s := c.w.Settings
	s.Documents = nil
	c.do(boss, SetSettings{s})
	require.True(t, c.w.Settings.NeedsInstructions(), "by its own act alone")
	c.refused("loosened", unsigned, demand(false, "no papers yet"))
	c.refused("loosened", boss, demand(false, " "))
	c.do(boss, demand(false, "no papers yet"))
	require.Equal(t, "no papers yet", c.w.Settings.Documents.Reason)
	require.False(t, c.w.Settings.NeedsInstructions())
}

func TestThePageInAText(t *testing.T) {
	for text, page := range map[string]int{"page 14": 14, "Page 14": 14, "as in section 3, page 14": 14,
		"p. 14": 14, "p14": 14, "p.14": 14, "pp. 14-16": 14, "pages 14–16": 14, "14": 14, "14-16": 14,
		"(page 9)": 9, "page 9999": 9999, "page 10000": 0, "page 0": 0, "": 0, "version 4": 0,
		"Recorder A instructions, version 4": 0, "Handbook 14": 0, "page": 0, "page four": 0,
		"page 014": 0, "chapter 2": 0, "phone 3": 0, "version 4, page 12": 12} {
		require.Equal(t, page, PageIn(text), text)
	}
}
